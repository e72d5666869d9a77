"""Glitches of one channel: rows that depart from their second's reference.

Theory of operation. Rows are read in whole seconds on a fixed grid, so the result does not depend
on how the record was cut. A row is "out" if its least or greatest reading, or its mean, is further
from the reference than the threshold of each (``reference.py``); rows closer than 30 ms make one
departure. A departure that swings to both sides is noise, not a glitch.

Length: whole rows count in full; of the first and the last the share that explains their mean.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from locum.review.reference import (
    LIVELY_MS,
    LONG_MS,
    RETURNED,
    STEPPED,
    Held,
    Reference,
    Seconds,
    middle_by_group,
    smoothed,
)

MERGE_MS = 30
BOTH_SIDES = 0.4
WHOLE = 0.9
"""A row was out all the time if its mean says so of this share."""
HUM_HALF_MS = 60
"""Hum and interference do not stay on one side for so long: 8 Hz. [ms]"""


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
    noise_k: float = 0.0
    """Half range of a quiet row when it began: so far it swings by itself. [K]"""
    unbroken_ms: float = 0.0
    """Longest piece of it that was out all the time. [ms]"""
    one_side_ms: float = 0.0
    """Longest piece of it on one side. [ms]"""
    side: int = 0
    """Of its last row: 1 cold, -1 hot, 0 both."""
    _piece_ms: float = 0.0
    _side_ms: float = 0.0

    def add_piece(self, out_ms: float, side: int, adjoins: bool) -> None:
        """One more row, out for so long; ``last_share`` and ``last_span`` are the row before yet."""
        before_ms = self.last_share * self.last_span
        joined_ms = self._piece_ms if self.last_share > WHOLE else min(before_ms, self._piece_ms)
        self._piece_ms = out_ms + (joined_ms if adjoins else 0.0)
        self.unbroken_ms = max(self.unbroken_ms, self._piece_ms)
        self._side_ms = out_ms + (self._side_ms if adjoins and side == self.side else 0.0)
        if side:
            self.one_side_ms = max(self.one_side_ms, self._side_ms)
        self.side = side


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


class Departures:
    """Feed whole seconds of rows in order; departures come out when they are over."""

    def __init__(self, threshold_k: float, done: Callable[[Departure], None]) -> None:
        self._reference = Reference(threshold_k)
        self._done = done
        self._open: Departure | None = None

    @property
    def under_way(self) -> Departure | None:
        return self._open

    def feed(self, rows: Rows) -> tuple[np.ndarray, np.ndarray]:
        """Judge rows of whole seconds; returns (first time, departed?) of each second. [ms]"""
        if len(rows) == 0:
            return np.empty(0, "i8"), np.empty(0, bool)
        key = rows.segment * (1 << 40) + rows.t_ms // 1000
        firsts = np.flatnonzero(np.diff(key, prepend=-1))
        held = self._reference.feed(_seconds(rows, firsts))
        group = np.repeat(np.arange(len(firsts)), np.diff(np.append(firsts, len(rows))))
        self._judge(rows, held, firsts, group)
        return rows.t_ms[firsts], held.out

    def _judge(self, rows: Rows, held: Held, firsts: np.ndarray, group: np.ndarray) -> None:
        reference = held.reference[group]
        cold_k = reference - _nearest(rows.kelvin[0], reference)
        hot_k = _nearest(rows.kelvin[2], reference) - reference
        out = np.maximum(cold_k, hot_k) > held.limit[group]
        mean_k = np.abs(_nearest(rows.kelvin[1], reference) - reference)
        # A row in which a second pull-up came or went has a mean that is on neither stage.
        narrow = rows.kelvin[2][0] - rows.kelvin[0][0] <= 2 * held.limit[group]
        out |= narrow & (mean_k > held.mean_limit[group])
        begins = {int(firsts[i]): int(held.begins[i]) for i in np.flatnonzero(held.begins)}
        for i in sorted({*np.flatnonzero(out).tolist(), *begins}):
            if begins.get(i) == RETURNED:
                self._open = None  # the way back from a step
            elif i in begins and self._open is not None:
                self._open.step = begins[i] == STEPPED
                self._finish()
            if out[i]:
                self._grow(rows, i, float(cold_k[i]), float(hot_k[i]), float(held.noise[group[i]]))
        if self._open is not None and rows.end_ms[-1] - self._open.end_ms > MERGE_MS:
            self._finish()

    def _grow(self, rows: Rows, i: int, cold_k: float, hot_k: float, noise_k: float) -> None:
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
        side = (
            0 if min(cold_k, hot_k) > BOTH_SIDES * max(cold_k, hot_k) else 1 if towards_cold else -1
        )
        if held is None:
            self._open = Departure(
                t_ms, end_ms, share * span, cold_k, hot_k, extreme, int(rows.source[i]), share, span,
                noise_k=noise_k,
            )  # fmt: skip
            self._open.add_piece(share * span, side, adjoins=False)
            return
        held.add_piece(share * span, side, adjoins=t_ms <= held.end_ms)
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


def _seconds(rows: Rows, firsts: np.ndarray) -> Seconds:
    """One value of each kind for each second of the rows."""
    weights = np.maximum(rows.end_ms - rows.t_ms, 1)
    cold, mean, hot = (stages[0] for stages in rows.kelvin)
    swing = np.maximum.reduceat(hot, firsts) - np.minimum.reduceat(cold, firsts)
    mean_swing = np.maximum.reduceat(mean, firsts) - np.minimum.reduceat(mean, firsts)
    smooth = [smoothed(stage, weights, firsts) for stage in rows.kelvin[1]]
    return Seconds(
        rows.segment[firsts].tolist(),
        [middle_by_group(stage, weights, firsts).tolist() for stage in rows.kelvin[1]],
        middle_by_group(0.5 * (hot - cold), weights, firsts).tolist(),
        (0.5 * swing).tolist(),
        (0.5 * mean_swing).tolist(),
        [*firsts.tolist(), len(rows)],
        mean,
        weights,
        np.where(
            np.add.reduceat(weights * (weights <= LONG_MS), firsts) >= LIVELY_MS,
            middle_by_group(np.abs(mean - smooth[0]), weights, firsts),
            0.0,
        ).tolist(),
        middle_by_group(np.maximum(hot - smooth[0], smooth[0] - cold), weights, firsts).tolist(),
        [middle_by_group(stage, weights, firsts).tolist() for stage in smooth],
        smooth[0],
    )


def is_noise(departure: Departure, shortest_ms: float) -> bool:
    """Hum or interference: swings to both sides and stays on neither, or is made of spikes.

    A contact only ever adds, a chafe only takes; an open that turns into a short stays on each side
    for longer than hum does. What a quiet row swings by itself says nothing.
    """
    if departure.unbroken_ms < shortest_ms:
        return True
    small, large = sorted((departure.cold_k, departure.hot_k))
    both = small > BOTH_SIDES * large + departure.noise_k
    return both and departure.one_side_ms < HUM_HALF_MS


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
