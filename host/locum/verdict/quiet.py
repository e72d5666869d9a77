"""How long a repaired car must run quiet, and the sequential test that may end it sooner.

The rule is chosen before the repair; the other is information only.
Sources: the conditional test turned around (exact.conditional_test with no event after);
A. Wald, Sequential Analysis (1947), chapter 3 and appendix on Poisson counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from locum.verdict import exact, tails
from locum.verdict.exact import _need


def quiet_hours_needed(events: int, exposure_h: float, confidence: float = 0.95) -> float:
    """Event-free exposure that shows the rate has fallen: t1 ((1-C)^(-1/n) - 1). [h]

    Infinite for no event before: then nothing can be shown by quiet.
    """
    _need(events >= 0 and exposure_h > 0, "events >= 0 in hours > 0", f"{events}/{exposure_h}h")
    _need(0 < confidence < 1, "a confidence between 0 and 1", confidence)
    if events == 0:
        return math.inf
    return exposure_h * math.expm1(-math.log1p(-confidence) / events)


def quiet_hours_rate_known(rate_per_h: float, confidence: float = 0.95) -> float:
    """The same if the rate were known exactly: -ln(1-C)/rate. Too short in practice. [h]"""
    return -math.log1p(-confidence) / rate_per_h


def quiet_hours_worst_of(
    events: int, exposure_h: float, spells: int, confidence: float = 0.95
) -> float:
    """Corrected for a baseline that is the worst of several spells. [h]

    ``quiet_hours_needed`` times the ratio of what the unconditional test asks for such a
    baseline and for a plain one: sup over rates of P(worst >= n) exp(-rate t2) <= 1 - C.
    """
    plain = quiet_hours_needed(events, exposure_h, confidence)
    if spells <= 1 or math.isinf(plain):
        return plain
    return (
        plain * _unconditional(events, spells, confidence) / _unconditional(events, 1, confidence)
    )


def _unconditional(events: int, spells: int, confidence: float) -> float:
    """Quiet time in units of the baseline's, least that holds for every rate."""
    worst = 0.0
    for i in range(1, 400):
        mean = 0.02 * i * max(1.0, events / 4)
        seen = -math.expm1(spells * math.log(max(tails.poisson_at_most(events - 1, mean), 1e-300)))
        if seen > 1 - confidence:
            worst = max(worst, math.log(seen / (1 - confidence)) / mean)
    return worst


def quiet_hours_uneven(
    events: int, exposure_h: float, drive_h: float, shape: float = 1.0, confidence: float = 0.95
) -> float:
    """Corrected for drives that differ: rates gamma over drives with this shape. [h]

    A drive of h hours stays quiet with (1 + r h/shape)^(-shape) instead of exp(-r h), so more of
    them are needed; whole drives are counted.
    """
    plain = quiet_hours_needed(events, exposure_h, confidence)
    if math.isinf(plain):
        return plain
    rate = quiet_rate(plain, confidence)
    stays = -shape * math.log1p(rate * drive_h / shape)
    return drive_h * math.ceil(math.log1p(-confidence) / stays - 1e-9)


def quiet_rate(quiet_h: float, confidence: float = 0.95) -> float:
    """Rate that would make this quiet time improbable. [1/h]"""
    return -math.log1p(-confidence) / quiet_h


def zero_failure_drives(chance: float, confidence: float = 0.95) -> int:
    """Quiet drives needed if a bad car shows the fault with this chance per drive, known."""
    _need(0 < chance < 1, "a chance between 0 and 1", chance)
    return math.ceil(math.log1p(-confidence) / math.log1p(-chance) - 1e-12)


def quiet_drives_needed(bad: int, drives: int, confidence: float = 0.95) -> int | None:
    """Quiet drives needed after ``bad`` of ``drives``, by Fisher's test; None: no number will do."""
    _need(0 <= bad <= drives and drives > 0, "bad drives among drives", (bad, drives))
    if bad == 0:
        return None
    for quiet in range(1, 10_000):
        if exact.fisher(bad, drives, 0, quiet).p_value <= 1 - confidence:
            return quiet
    return None


@dataclass(frozen=True)
class Sprt:
    """Wald's sequential test of a bad rate against a good one. Rates per hour."""

    bad_per_h: float
    good_per_h: float
    alpha: float = 0.05
    """Chance that a good car is called bad."""
    beta: float = 0.05
    """Chance that a bad car is called good."""

    def __post_init__(self) -> None:
        _need(self.bad_per_h > self.good_per_h > 0, "bad rate > good rate > 0", self)

    @property
    def _step(self) -> float:
        return math.log(self.bad_per_h / self.good_per_h)

    def repaired_after_h(self, events: int) -> float:
        """Exposed hours at which the car counts as repaired with so many events. [h]"""
        bar = math.log((1 - self.alpha) / self.beta)
        return (bar + events * self._step) / (self.bad_per_h - self.good_per_h)

    def still_bad_until_h(self, events: int) -> float | None:
        """Exposed hours up to which so many events mean "still bad"; None: never. [h]"""
        bar = math.log((1 - self.beta) / self.alpha)
        hours = (events * self._step - bar) / (self.bad_per_h - self.good_per_h)
        return hours if hours > 0 else None

    def decision(self, events: int, exposed_h: float) -> str:
        """``repaired``, ``still_bad`` or ``go_on``."""
        if exposed_h >= self.repaired_after_h(events):
            return "repaired"
        limit = self.still_bad_until_h(events)
        return "still_bad" if limit is not None and exposed_h <= limit else "go_on"


@dataclass(frozen=True)
class QuietTime:
    """The quiet time and its corrections, each in a field of its own. [h]"""

    quiet_hours_needed: float
    if_rate_were_known: float
    worst_of_spells: float
    uneven_drives: float
    unprovable: bool
    """More than ten times the baseline's exposure: rely on the physical finding."""


def quiet_time(
    events: int,
    exposure_h: float,
    confidence: float = 0.95,
    spells: int = 1,
    drive_h: float = 2.0,
    shape: float = 1.0,
) -> QuietTime:
    """All figures for one baseline."""
    plain = quiet_hours_needed(events, exposure_h, confidence)
    known = quiet_hours_rate_known(events / exposure_h, confidence) if events else math.inf
    return QuietTime(
        plain,
        known,
        quiet_hours_worst_of(events, exposure_h, spells, confidence),
        quiet_hours_uneven(events, exposure_h, drive_h, shape, confidence),
        plain > 10 * exposure_h,
    )


@dataclass(frozen=True)
class Comparison:
    """``locum verdict``: two rates, the test between them, the quiet time still needed."""

    p_value: float
    convention: str
    two_sided_minlik: float
    ratio: float
    ratio_limits: exact.Interval
    rate_before: exact.Interval
    rate_after: exact.Interval
    quiet_hours_needed: float
    quiet: QuietTime | None
    unit: str = "h"


def compare(
    before: int,
    before_h: float,
    after: int,
    after_h: float,
    confidence: float = 0.95,
    spells: int = 1,
    drive_h: float = 2.0,
) -> Comparison:
    """Events before and after in exposed hours; the answer of ``locum verdict``."""
    test = exact.conditional_test(before, before_h, after, after_h, confidence)
    quiet = quiet_time(before, before_h, confidence, spells, drive_h)
    return Comparison(
        test.p_value,
        test.convention,
        test.two_sided_minlik,
        test.ratio,
        test.ratio_limits,
        exact.garwood(before, before_h, confidence),
        exact.garwood(after, after_h, confidence),
        quiet.quiet_hours_needed,
        quiet,
    )


def compare_drives(
    before: int, before_drives: int, after: int, after_drives: int, confidence: float = 0.95
) -> Comparison:
    """Drives with the fault out of drives, before and after (Fisher, Clopper-Pearson)."""
    test = exact.fisher(before, before_drives, after, after_drives, ("before", "after"))
    needed = quiet_drives_needed(before, before_drives, confidence)
    return Comparison(
        test.p_value,
        test.convention,
        test.two_sided_minlik,
        test.ratio,
        test.ratio_limits,
        exact.clopper_pearson(before, before_drives, confidence),
        exact.clopper_pearson(after, after_drives, confidence),
        math.inf if needed is None else float(needed),
        None,
        "drives",
    )
