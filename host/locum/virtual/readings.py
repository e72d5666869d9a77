"""Reads the full world's arrays and levels without error: runs that leave the slow value, pulses."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .case import Glitches

OPEN_RESIDUAL = 1e7


class LineReader:
    """Finds the spans in which an array leaves its last slow value."""

    def __init__(self, leaves: Callable[[np.ndarray, float], np.ndarray]) -> None:
        self._leaves = leaves
        self._base: float | None = None
        self._since_s: float | None = None
        self._cold = True
        self._rows: list[tuple[float, float, bool]] = []

    def fresh(self, base: float) -> None:
        """Something else is connected: the slow value is this from here on."""
        self._base = base

    def read(self, t_ms: int, values: np.ndarray, lively: bool) -> None:
        """The array from ``t_ms`` on, 1 kHz; a quiet one only moves the slow value."""
        if self._base is None:
            self._base = float(values[0])
        if not lively and self._since_s is None:
            self._base = float(values[-1])
            return
        out = self._leaves(values, self._base)
        turns = np.flatnonzero(np.diff(out, prepend=self._since_s is not None))
        for i in turns.tolist():
            at_s = (t_ms + i) / 1000
            if self._since_s is None:
                self._since_s, self._cold = at_s, bool(values[i] > self._base)
            else:
                self._rows.append((self._since_s, at_s - self._since_s, self._cold))
                self._since_s = None
        if self._since_s is None:
            self._base = float(values[-1])

    def glitches(self) -> Glitches:
        """Those that have ended."""
        rows = self._rows
        return Glitches(
            np.array([r[0] for r in rows]),
            np.array([r[1] for r in rows]),
            np.array([r[2] for r in rows], bool),
            np.full(len(rows), OPEN_RESIDUAL),
        )


class Pulses:
    """Spans of a line that is on or off."""

    def __init__(self) -> None:
        self._since_s: float | None = None
        self._rows: list[tuple[float, float]] = []

    def level(self, t_s: float, on: bool) -> None:
        if on and self._since_s is None:
            self._since_s = t_s
        elif not on and self._since_s is not None:
            self._rows.append((self._since_s, t_s - self._since_s))
            self._since_s = None

    def done(self, end_s: float) -> tuple[np.ndarray, np.ndarray]:
        """(begins, lengths); what is still on ends with the drive."""
        if self._since_s is not None:
            self._rows.append((self._since_s, end_s - self._since_s))
            self._since_s = None
        return np.array([r[0] for r in self._rows]), np.array([r[1] for r in self._rows])
