"""At what temperature does the module change its mind? Sweeps, bisection, staircase, hysteresis.

The stand-in moves, review reports states, and these functions turn the answers into a threshold
with an interval. Each answer begins from the same side after a reset: the module has hysteresis,
and a staircase that does not reset finds only the middle of it. Temperatures are what the
stand-in was set to; the instrument's own uncertainty comes from outside and is added in squares.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from locum.errors import Refused, Remark

T_95 = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179,
        2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086)  # fmt: skip
"""Student's t, two-sided 95 %, for 1 to 20 degrees of freedom (any table of the t law)."""


@dataclass(frozen=True)
class Threshold:
    """A threshold with its 95 % interval. [degC]"""

    celsius: float
    low_c: float
    high_c: float
    how: str
    n: int = 1

    @property
    def expanded_c(self) -> float:
        """Half of the interval. [K]"""
        return 0.5 * (self.high_c - self.low_c)


@dataclass(frozen=True)
class Hysteresis:
    """The state appears at ``up`` and goes at ``down``."""

    up: Threshold
    down: Threshold

    @property
    def width_c(self) -> float:
        return self.up.celsius - self.down.celsius

    @property
    def expanded_c(self) -> float:
        """Uncertainty of the width; what the two share (the instrument) is counted twice. [K]"""
        return math.hypot(self.up.expanded_c, self.down.expanded_c)


def widened(threshold: Threshold, instrument_u_c: float) -> Threshold:
    """The interval with the instrument's own standard uncertainty added in squares."""
    half = math.hypot(threshold.expanded_c, 2.0 * instrument_u_c)
    return Threshold(
        threshold.celsius, threshold.celsius - half, threshold.celsius + half, threshold.how, threshold.n
    )  # fmt: skip


def from_bracket(no_c: float, yes_c: float, how: str = "sweep") -> Threshold:
    """The change lies between the last "no" and the first "yes"."""
    low, high = sorted((no_c, yes_c))
    return Threshold(0.5 * (low + high), low, high, how)


@dataclass
class Bisection:
    """Halve a bracket until it is narrow enough; every trial starts from the ``no`` side."""

    no_c: float
    yes_c: float
    resolution_c: float = 0.5
    trials: int = 0
    reset_c: float = field(init=False)
    """Where to wait before each trial: a fifth of the first range beyond "no", past any
    hysteresis however narrow the bracket has become. [degC]"""

    def __post_init__(self) -> None:
        self.reset_c = self.no_c + 0.2 * (self.no_c - self.yes_c)

    @property
    def steps_needed(self) -> int:
        """Trials from here: log2(range / resolution), rounded up."""
        span = abs(self.yes_c - self.no_c)
        return max(0, math.ceil(math.log2(span / self.resolution_c) - 1e-12)) if span > 0 else 0

    @property
    def done(self) -> bool:
        return abs(self.yes_c - self.no_c) <= self.resolution_c * (1 + 1e-12)

    @property
    def next_c(self) -> float:
        """Temperature to try now; go there from ``reset_c``."""
        return 0.5 * (self.no_c + self.yes_c)

    def answer(self, yes: bool) -> None:
        """The module's answer at ``next_c``."""
        if yes:
            self.yes_c = self.next_c
        else:
            self.no_c = self.next_c
        self.trials += 1

    @property
    def result(self) -> Threshold:
        found = from_bracket(self.no_c, self.yes_c, "bisection")
        return Threshold(found.celsius, found.low_c, found.high_c, found.how, self.trials)


def dwell_s(filter_s: float, confirm_s: float, delay_s: float) -> float:
    """How long a trial must wait for the answer: five filters, confirm, delay, a second. [s]"""
    return 5 * filter_s + confirm_s + delay_s + 1.0


def extrapolated_c(rates_k_per_s: Sequence[float], seen_c: Sequence[float]) -> Threshold:
    """Threshold at rate zero from sweeps at two rates or more (least squares line).

    A ramp shifts what is seen by rate times (filter + confirm time): with two rates
    T0 = T1 - r1 (T2 - T1) / (r2 - r1).

    Raises
    ------
    Refused
        If there are not two different rates.
    """
    n = len(rates_k_per_s)
    if n != len(seen_c) or n < 2 or max(rates_k_per_s) == min(rates_k_per_s):
        raise Refused(
            Remark("two_rates", "threshold", "sweeps at two different rates", f"{n} sweeps",
                   "sweep once more at a quarter of the rate")
        )  # fmt: skip
    mean_r, mean_t = sum(rates_k_per_s) / n, sum(seen_c) / n
    spread = sum((r - mean_r) ** 2 for r in rates_k_per_s)
    slope = (
        sum((r - mean_r) * (t - mean_t) for r, t in zip(rates_k_per_s, seen_c, strict=True))
        / spread
    )
    at_zero = mean_t - slope * mean_r
    if n == 2:
        half = abs(seen_c[1] - seen_c[0])
        return Threshold(at_zero, at_zero - half, at_zero + half, "two rates", 2)
    left = sum((t - at_zero - slope * r) ** 2 for r, t in zip(rates_k_per_s, seen_c, strict=True))
    error = math.sqrt(left / (n - 2) * (1 / n + mean_r**2 / spread))
    half = _t95(n - 2) * error
    return Threshold(at_zero, at_zero - half, at_zero + half, "several rates", n)


def _t95(freedom: int) -> float:
    return T_95[freedom - 1] if freedom <= len(T_95) else 1.96 + 2.5 / freedom


@dataclass
class Staircase:
    """Up one step after "no", down one after "yes", each trial from a reset (Dixon and Mood 1948;
    the mean of reversals as in Wetherill and Levitt 1965)."""

    start_c: float
    step_c: float = 1.0
    levels_c: list[float] = field(default_factory=list)
    answers: list[bool] = field(default_factory=list)

    @property
    def next_c(self) -> float:
        if not self.answers:
            return self.start_c
        return self.levels_c[-1] + (-self.step_c if self.answers[-1] else self.step_c)

    def answer(self, yes: bool) -> None:
        level = self.next_c
        self.levels_c.append(level)
        self.answers.append(yes)

    @property
    def reversals_c(self) -> list[float]:
        """Midpoints between neighbouring levels with different answers."""
        pairs = zip(self.levels_c, self.levels_c[1:], self.answers, self.answers[1:], strict=False)
        return [0.5 * (a + b) for a, b, x, y in pairs if x != y]

    @property
    def done(self) -> bool:
        """The first reversal is thrown away, six are averaged."""
        return len(self.reversals_c) >= 7

    @property
    def result(self) -> Threshold:
        return staircase_mean(self.reversals_c[1:])


def staircase_mean(reversals_c: Sequence[float]) -> Threshold:
    """Mean of reversals with a t interval.

    Raises
    ------
    Refused
        With fewer than two reversals.
    """
    n = len(reversals_c)
    if n < 2:
        raise Refused(Remark("reversals", "staircase", "two reversals or more", str(n), "go on"))
    mean = sum(reversals_c) / n
    deviation = math.sqrt(sum((x - mean) ** 2 for x in reversals_c) / (n - 1))
    half = _t95(n - 1) * deviation / math.sqrt(n)
    return Threshold(mean, mean - half, mean + half, "staircase", n)


def from_sweep(
    track: Sequence[tuple[float, float]], states: Sequence[tuple[float, str]], held: str
) -> dict[str, list[float]]:
    """Temperatures at which a state came (``up``) and went (``down``) during sweeps.

    Parameters
    ----------
    track : sequence of (time, temperature)
        What the stand-in was, sorted by time. [s, degC]
    states : sequence of (time, name)
        States as entered. [s]
    held : str
        The state looked for.
    """
    came: dict[str, list[float]] = {"up": [], "down": []}
    before = None
    for t_s, name in states:
        if before is not None and (name == held) != (before == held):
            came["up" if name == held else "down"].append(_at(track, t_s))
        before = name
    return came


def _at(track: Sequence[tuple[float, float]], t_s: float) -> float:
    value = track[0][1]
    for (t0, c0), (t1, c1) in zip(track, track[1:], strict=False):
        if t0 <= t_s <= t1:
            return c0 + (c1 - c0) * (t_s - t0) / (t1 - t0) if t1 > t0 else c1
        if t1 <= t_s:
            value = c1
    return value
