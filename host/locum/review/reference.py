"""What each second of a channel is held against: a reference that only moves as physics allows.

Each second has a middle value (median over time); the reference is the middle of the second before,
as long as that did not itself depart: a real sensor moves by less than 0.4 K/s, a way home by 1 K/s,
so a reference one second old is at most 1.5 K off. It is frozen while seconds are out, for 20 s;
then the level has stepped. Of hum the median is one of its two sides: there the mean serves, of those
rows that are no further from the reference than the threshold, so that a glitch does not move it.

Two thresholds, both never below the one asked for. That of single readings rises with the noise of
quiet seconds and with the swing that most of five seconds share, so that hum shifts no threshold but
its own. That of whole rows' means is lower, for ten readings average the noise by three: it is what
finds a glitch where a high pull-up leaves five kelvin no more than a few counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

STEP_CELLS = 20
NOISE_FACTOR = 2.5
"""Threshold of readings over the half range of a quiet row (ten readings reach 1.5 sigma)."""
MEAN_FACTOR = 1.1
"""Threshold of means over the same: five sigma of a mean of ten readings."""
SWAY_FACTOR = 1.5
"""Threshold of readings over the middle row's reach, where there is hum."""
SWING_FACTOR = 1.3
"""Threshold over the half swing that most of five seconds share: hum. At most doubled by it, for
glitches in every second must not hide each other."""
HUM_K = 1.0
"""A lasting swing beyond this is hum or interference. [K]"""
RIPPLE_K = 0.5
"""Rows that differ from the mean around them by this in the middle, and by as much to either side: hum.
Of a glitch the middle row knows nothing. [K]"""
LONG_MS = 50
"""A row longer than this was merged because it was quiet. [ms]"""
LIVELY_MS = 500
"""Of a second with hum at least so much is in short rows. [ms]"""
RETURN_K = 10.0
"""So close to the level before a step is the way back from it and no departure of its own. [K]"""
FRESH, STEPPED, RETURNED = 1, 2, 3


@dataclass
class Seconds:
    """One value for each second of a feed, lists of equal length."""

    segment: list[int]
    middles: list[list[float]]
    """Weighted median of the rows' means, a list for each stage of the pull-up. [K]"""
    noise: list[float]
    """Weighted median of the rows' half ranges. [K]"""
    swing: list[float]
    """Half of the whole second's range. [K]"""
    mean_swing: list[float]
    """The same of the rows' means. [K]"""
    bounds: list[int]
    """First row of each second, and the number of rows. [1]"""
    mean: np.ndarray
    """Mean of each row, first stage. [K]"""
    weight: np.ndarray
    """Length of each row. [ms]"""
    ripple: list[float]
    """Weighted median of how far rows are from the mean of the tenth of a second around them; 0 of a
    second that is not lively. [K]"""
    sway: list[float]
    """Weighted median of how far the readings of a row reach from there. [K]"""
    smooth: list[list[float]]
    """Weighted median of those means, a list for each stage. [K]"""
    smooth_rows: np.ndarray
    """The mean around each row, first stage. [K]"""


@dataclass
class Held:
    """What the rows of each second are held against, arrays of equal length."""

    reference: np.ndarray
    limit: np.ndarray
    """Of single readings. [K]"""
    mean_limit: np.ndarray
    """Of the means of rows. [K]"""
    noise: np.ndarray
    """Half range of a quiet row. [K]"""
    begins: np.ndarray
    """0, or FRESH (a new segment), STEPPED (a new level) or RETURNED (to the level before it)."""
    out: np.ndarray
    """True where the second itself departed: its middle is no temperature."""


def middle_by_group(values: np.ndarray, weights: np.ndarray, firsts: np.ndarray) -> np.ndarray:
    """Weighted median of each group of consecutive rows; groups begin at ``firsts``."""
    sizes = np.diff(np.append(firsts, len(values)))
    out = values[firsts].astype(float)
    many = np.flatnonzero(sizes > 1)
    if len(many) == 0:
        return out
    rows = np.concatenate([np.arange(firsts[g], firsts[g] + sizes[g]) for g in many])
    group = np.repeat(np.arange(len(many)), sizes[many])
    order = np.lexsort((values[rows], group))
    rows = rows[order]
    total = np.cumsum(weights[rows], dtype=float)
    ends = np.cumsum(sizes[many])
    before = np.concatenate(([0.0], total[ends[:-1] - 1]))
    half = before + 0.5 * (total[ends - 1] - before)
    at = np.searchsorted(total, half, "left")
    out[many] = values[rows[np.minimum(at, ends - 1)]]
    return out


def smoothed(values: np.ndarray, weights: np.ndarray, firsts: np.ndarray) -> np.ndarray:
    """Weighted mean of each row and the four to five on either side of it, within its second.

    Ten rows of 10 ms hold whole periods of 50 and 60 Hz. A long row stands for itself: it was merged
    because it was quiet.
    """
    starts = np.repeat(firsts, np.diff(np.append(firsts, len(values))))
    ends = np.repeat(np.append(firsts[1:], len(values)), np.diff(np.append(firsts, len(values))))
    at = np.arange(len(values))
    low = np.maximum(at - 5, starts)
    high = np.minimum(low + 10, ends)
    low = np.maximum(high - 10, starts)
    sums = np.concatenate(([0.0], np.cumsum(values * weights)))
    total = np.concatenate(([0.0], np.cumsum(weights, dtype=float)))
    around = (sums[high] - sums[low]) / (total[high] - total[low])
    return np.where(weights > LONG_MS, values, around)


class Reference:
    """Feed seconds in order; what each is held against comes out."""

    def __init__(self, threshold_k: float) -> None:
        self.threshold_k = threshold_k
        self._segment: int | None = None
        self._value = 0.0
        self._noise = 0.0
        self._swings: list[tuple[float, float]] = []
        self._cells_out = 0
        self._before_step: float | None = None

    def feed(self, seconds: Seconds) -> Held:
        rows = [self._second(seconds, i) for i in range(len(seconds.segment))]
        columns = [np.array(column) for column in zip(*rows, strict=True)]
        return Held(*columns)

    def _second(self, seconds: Seconds, i: int) -> tuple[float, float, float, float, int, bool]:
        # Of hum the median of rows is one of its two sides; that of a tenth of a second is between.
        rippled = seconds.ripple[i] > RIPPLE_K
        candidates = [stage[i] for stage in (seconds.smooth if rippled else seconds.middles)]
        fresh = seconds.segment[i] != self._segment
        if fresh:
            self._segment, self._cells_out = seconds.segment[i], 0
            self._value, self._noise = candidates[0], seconds.noise[i]
            self._swings, self._before_step = [], None
        limit, mean_limit, hum = self._limits(seconds, i)
        if rippled:
            limit = max(limit, SWAY_FACTOR * seconds.sway[i])
            mean_limit = max(mean_limit, SWAY_FACTOR * seconds.sway[i])
        middle = min(candidates, key=lambda value: abs(value - self._value))
        if rippled:
            middle = self._mean_near(seconds, seconds.smooth_rows, i, middle, self.threshold_k)
        elif hum:
            middle = self._mean_near(seconds, seconds.mean, i, middle, limit)
        out = abs(middle - self._value) > limit
        if out and self._returns(middle):
            self._value, self._cells_out, self._before_step = middle, 0, None
            return middle, math.inf, math.inf, self._noise, RETURNED, False
        steps = out and self._cells_out >= STEP_CELLS
        if steps:
            self._before_step = self._value
        held = (self._value, limit, mean_limit, self._noise)
        begins = FRESH if fresh else STEPPED if steps else 0
        if out and not steps:
            self._cells_out += 1
            return (*held, begins, True)
        self._value, self._cells_out = middle, 0
        self._noise += 0.1 * (seconds.noise[i] - self._noise)
        return (middle if steps else held[0], *held[1:], begins, False)

    def _returns(self, middle: float) -> bool:
        """True if a level that stepped goes back to where it was."""
        before = self._before_step
        if before is None:
            return False
        return abs(middle - before) <= min(RETURN_K, abs(middle - self._value))

    def _limits(self, seconds: Seconds, i: int) -> tuple[float, float, bool]:
        """(of readings, of means, hum?) from what lasted in the five seconds before."""
        middle = len(self._swings) // 2
        lasting, mean_lasting = (
            (sorted(kind)[middle] for kind in zip(*self._swings, strict=True))
            if self._swings
            else (0.0, 0.0)
        )
        least, most = self.threshold_k, 2 * self.threshold_k
        limit = max(least, NOISE_FACTOR * self._noise, min(SWING_FACTOR * lasting, most))
        mean_limit = max(least, MEAN_FACTOR * self._noise, min(SWING_FACTOR * mean_lasting, most))
        self._swings = [*self._swings[-4:], (seconds.swing[i], seconds.mean_swing[i])]
        return limit, mean_limit, mean_lasting > HUM_K

    def _mean_near(
        self, seconds: Seconds, values: np.ndarray, i: int, middle: float, limit: float
    ) -> float:
        """Mean of the second's rows that are near the reference; the median where none is."""
        rows = slice(seconds.bounds[i], seconds.bounds[i + 1])
        value, weight = values[rows], seconds.weight[rows]
        near = np.abs(value - self._value) <= limit
        if not near.any():
            return middle
        return float(np.sum(value[near] * weight[near]) / np.sum(weight[near]))
