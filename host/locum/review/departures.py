"""Glitches of one channel: departures from a reference that only moves as physics allows.

Theory of operation. Rows are read in whole seconds on a fixed grid, so the result does not depend
on how the record was cut. Each second has a middle value (median over time); the reference is the
middle of the second before, as long as that did not itself depart: a real sensor moves by less
than 0.4 K/s, a way home by 1 K/s, so a reference one second old is at most 1.5 K off. A row whose
least or greatest reading is further from it than the threshold is "out"; rows closer than 30 ms
make one departure. The reference is frozen while seconds are out, for 20 s; then the level has
stepped. The threshold rises with the noise of quiet seconds, so hum shifts no threshold but its
own; a departure that swings to both sides is noise, not a glitch.

Length: whole rows count in full; of the first and the last the share that explains their mean.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

MERGE_MS = 30
STEP_CELLS = 20
NOISE_FACTOR = 2.5
"""Threshold over the half range of a quiet second (1,000 readings reach 3.3 sigma)."""
SWING_FACTOR = 1.3
"""Threshold over the half swing that most of five seconds share: hum. At most doubled by it, for
glitches in every second must not hide each other."""
BOTH_SIDES = 0.4
FRESH, STEPPED = 1, 2


@dataclass
class Departure:
    """One departure, still growing or done."""

    t_ms: float
    end_ms: float
    length_ms: float
    cold_k: float
    hot_k: float
    extreme_ohm: float
    source: int
    last_share: float
    last_span: float
    step: bool = False
    rows: int = 1


@dataclass
class Rows:
    """Readings of one channel prepared for judging: kelvin scale, one array per stage."""

    t_ms: np.ndarray
    end_ms: np.ndarray
    segment: np.ndarray
    source: np.ndarray
    kelvin: tuple[list[np.ndarray], list[np.ndarray], list[np.ndarray]]
    """Coldest, mean and hottest reading of each row, for each stage of the pull-up. [K]"""
    linear: tuple[np.ndarray, np.ndarray, np.ndarray]
    """The same readings (coldest, mean, hottest) in a measure whose mean is a time's share."""
    ohm: tuple[np.ndarray, np.ndarray]
    """Greatest and least ohms. [ohm]"""

    def __len__(self) -> int:
        return len(self.t_ms)


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


class Departures:
    """Feed whole seconds of rows in order; departures come out when they are over."""

    def __init__(self, threshold_k: float, done: Callable[[Departure], None]) -> None:
        self.threshold_k = threshold_k
        self._done = done
        self._segment: int | None = None
        self._reference = 0.0
        self._noise = 0.0
        self._swings: list[float] = []
        self._cells_out = 0
        self._open: Departure | None = None

    @property
    def under_way(self) -> Departure | None:
        return self._open

    def feed(self, rows: Rows) -> tuple[np.ndarray, np.ndarray]:
        """Judge rows of whole seconds; returns (first time, reference) of each second. [ms, K]"""
        if len(rows) == 0:
            return np.empty(0, "i8"), np.empty(0)
        key = rows.segment * (1 << 40) + rows.t_ms // 1000
        firsts = np.flatnonzero(np.diff(key, prepend=-1))
        weights = np.maximum(rows.end_ms - rows.t_ms, 1)
        middles = [middle_by_group(mean, weights, firsts) for mean in rows.kelvin[1]]
        ranges = 0.5 * (rows.kelvin[2][0] - rows.kelvin[0][0])
        noise = middle_by_group(ranges, weights, firsts)
        swing = 0.5 * (
            np.maximum.reduceat(rows.kelvin[2][0], firsts)
            - np.minimum.reduceat(rows.kelvin[0][0], firsts)
        )
        sums = np.add.reduceat(rows.kelvin[1][0] * weights, firsts)
        mean = sums / np.add.reduceat(weights, firsts)
        reference, threshold, stepped = self._references(
            rows.segment[firsts].tolist(),
            [m.tolist() for m in middles],
            mean.tolist(),
            noise.tolist(),
            swing.tolist(),
        )
        group = np.repeat(np.arange(len(firsts)), np.diff(np.append(firsts, len(rows))))
        new_level = {int(firsts[i]): int(stepped[i]) for i in np.flatnonzero(stepped)}
        self._judge(rows, reference[group], threshold[group], new_level)
        return rows.t_ms[firsts], reference

    def _references(self, segments, middles, mean, noise, swing):
        reference, threshold, stepped = [], [], []
        for i, segment in enumerate(segments):
            candidates = [stage[i] for stage in middles]
            fresh = segment != self._segment
            if fresh:
                self._segment, self._cells_out = segment, 0
                self._reference, self._noise = candidates[0], noise[i]
                self._swings = []
            middle = min(candidates, key=lambda value: abs(value - self._reference))
            lasting = sorted(self._swings)[len(self._swings) // 2] if self._swings else 0.0
            limit = max(
                self.threshold_k,
                NOISE_FACTOR * self._noise,
                min(SWING_FACTOR * lasting, 2 * self.threshold_k),
            )
            self._swings = [*self._swings[-4:], swing[i]]
            if lasting > 1.0 and abs(mean[i] - middle) <= self.threshold_k:
                middle = mean[i]  # of hum the median is one of its two sides
            out = abs(middle - self._reference) > limit
            steps = out and self._cells_out >= STEP_CELLS
            reference.append(self._reference)
            threshold.append(limit)
            stepped.append(FRESH if fresh else STEPPED if steps else 0)
            if out and not steps:
                self._cells_out += 1
                continue
            self._reference, self._cells_out = middle, 0
            self._noise += 0.1 * (noise[i] - self._noise)
            if steps:
                reference[-1] = middle
        return np.array(reference), np.array(threshold), np.array(stepped)

    def _judge(self, rows: Rows, reference, threshold, new_level: dict[int, int]) -> None:
        cold_k = reference - _nearest(rows.kelvin[0], reference)
        hot_k = _nearest(rows.kelvin[2], reference) - reference
        out = (cold_k > threshold) | (hot_k > threshold)
        for i in sorted({*np.flatnonzero(out).tolist(), *new_level}):
            if i in new_level and self._open is not None:
                self._open.step = new_level[i] == STEPPED
                self._finish()
            if out[i]:
                self._grow(rows, i, float(cold_k[i]), float(hot_k[i]))
        if self._open is not None and rows.end_ms[-1] - self._open.end_ms > MERGE_MS:
            self._finish()

    def _grow(self, rows: Rows, i: int, cold_k: float, hot_k: float) -> None:
        t_ms, end_ms = float(rows.t_ms[i]), float(rows.end_ms[i])
        if self._open is not None and (
            t_ms - self._open.end_ms > MERGE_MS or self._open.source != rows.source[i]
        ):
            self._finish()
        towards_cold = cold_k >= hot_k
        share = (
            1.0
            if -hot_k > 0.5 * cold_k or -cold_k > 0.5 * hot_k
            else _share_out(rows, i, towards_cold)
        )
        extreme = float(rows.ohm[0 if towards_cold else 1][i])
        span = end_ms - t_ms
        held = self._open
        if held is None:
            self._open = Departure(
                t_ms, end_ms, share * span, cold_k, hot_k, extreme, int(rows.source[i]), share, span
            )
            return
        # the row before was not the last after all: it counts in full, unless it was the first,
        # whose share lies at its end
        held.length_ms += t_ms - held.end_ms if t_ms > held.end_ms else 0.0
        if held.rows > 1:
            held.length_ms += (1 - held.last_share) * held.last_span
        else:
            held.t_ms = held.end_ms - held.last_share * held.last_span
        held.rows += 1
        held.length_ms += share * span
        if max(cold_k, hot_k) > max(held.cold_k, held.hot_k):
            held.extreme_ohm = extreme
        held.cold_k, held.hot_k = max(held.cold_k, cold_k), max(held.hot_k, hot_k)
        held.end_ms, held.last_share, held.last_span = end_ms, share, span

    def _finish(self) -> None:
        held, self._open = self._open, None
        if held is not None:
            self._done(held)

    def finish(self) -> None:
        """The record ends: what is under way is over."""
        self._finish()


def _nearest(stages: list[np.ndarray], reference: np.ndarray) -> np.ndarray:
    """Of the readings by each stage of the pull-up the one nearest the reference."""
    best = stages[0]
    for other in stages[1:]:
        best = np.where(np.abs(other - reference) < np.abs(best - reference), other, best)
    return best


def _share_out(rows: Rows, i: int, towards_cold: bool) -> float:
    """Share of the row's time that was out, from where its mean lies between its ends."""
    cold, mean, hot = (float(measure[i]) for measure in rows.linear)
    inner, outer = (hot, cold) if towards_cold else (cold, hot)
    return 1.0 if inner == outer else min(1.0, max(0.0, (mean - inner) / (outer - inner)))
