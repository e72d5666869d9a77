"""The slow channels: throttle moves, shifts of the return wire.

Rows are read in whole seconds on a fixed grid: a second that stays near the reference is settled
at once, a lively one row by row, so that hours cost little and the cut of the record does not
matter.
"""

from __future__ import annotations

import numpy as np


class SlowChannel:
    """Values against a reference that follows slowly; says when they leave and come back."""

    def __init__(self, threshold: float, follows: float, stays_ms: int) -> None:
        self.threshold = threshold
        self.follows = follows
        """Share of the way the reference goes each quiet second."""
        self.stays_ms = stays_ms
        """Away for so long: the new value is the reference. Zero: at once, each move counts."""
        self.reference: float | None = None
        self.away_ms: int | None = None
        self._times: list[np.ndarray] = []
        self._values: list[np.ndarray] = []

    def add(self, t_ms: np.ndarray, values: np.ndarray) -> None:
        """Rows of one chunk, sorted by time."""
        if len(t_ms):
            self._times.append(t_ms)
            self._values.append(values)

    def settle(self, end_ms: int) -> list[tuple[int, bool]]:
        """``(t_ms, away?)`` of each crossing before ``end_ms``, a whole second."""
        if not self._times or self._times[0][0] >= end_ms:
            return []
        times, values = np.concatenate(self._times), np.concatenate(self._values)
        count = int(np.searchsorted(times, end_ms))
        self._times, self._values = [], []
        self.add(times[count:], values[count:])
        times, values = times[:count], values[:count]
        firsts = np.flatnonzero(np.diff(times // 1000, prepend=-1))
        lows = np.minimum.reduceat(values, firsts).tolist()
        highs = np.maximum.reduceat(values, firsts).tolist()
        bounds = [*firsts.tolist(), count]
        crossings: list[tuple[int, bool]] = []
        for i, (low, high) in enumerate(zip(lows, highs, strict=True)):
            begin, end = bounds[i], bounds[i + 1]
            if self._quiet_second(low, high, float(values[end - 1]), float(values[begin])):
                continue
            self._row_by_row(times[begin:end].tolist(), values[begin:end].tolist(), crossings)
        return crossings

    def _quiet_second(self, low: float, high: float, last: float, first: float) -> bool:
        if self.reference is None:
            self.reference = first
        near = self.threshold
        if self.away_ms is not None or high - self.reference > near or self.reference - low > near:
            return False
        self.reference += self.follows * (last - self.reference)
        return True

    def _row_by_row(self, times, values, crossings) -> None:
        for t_ms, value in zip(times, values, strict=True):
            hysteresis = 1.0 if self.away_ms is None else 0.5
            away = abs(value - self.reference) > self.threshold * hysteresis
            if away and self.away_ms is None:
                self.away_ms = t_ms
                crossings.append((t_ms, True))
            elif not away and self.away_ms is not None:
                self.away_ms = None
                crossings.append((t_ms, False))
            if self.away_ms is not None and t_ms - self.away_ms >= self.stays_ms:
                self.reference, self.away_ms = value, None
                crossings.append((t_ms, False))
