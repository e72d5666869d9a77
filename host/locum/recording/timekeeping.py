"""Board time to UTC, from the readings whose round trip was shortest.

A reading says: at ``board_ms`` the computer's clock stood at ``utc_ms`` (taken at the middle
between question and answer), give or take half of ``round_trip_ms``. A USB host may hold an answer
back for tens of milliseconds, but never gives one early, so the shortest round trips are the
truest. One reading is kept per minute, the one with the shortest round trip; through these goes a
straight line, each weighed by the inverse square of its half round trip.

The computer's clock may be set, or jump when a laptop wakes. Where the line would have to jump by
more than round trips explain, a new line begins, and a remark says so; board time itself is never
bent. Times of day are for people and for other loggers; review and verdict use board time only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from locum.errors import Remark

WINDOW_MS = 60_000
"""One reading is kept per this time: long enough to hold a quick round trip, short against drift."""
JUMP_MS = 250.0
"""A step of the computer's clock smaller than this is left to the line; people see seconds."""
CRYSTAL_PPM = 200.0
"""A board's crystal is within 30 ppm, an oscillator within 1,000; beyond this the slope is not
believed over a short span and taken as zero."""


@dataclass(frozen=True)
class Piece:
    """One line ``utc_ms = utc0_ms + (board_ms - board0_ms) * (1 + drift_ppm / 1e6)``."""

    from_ms: int
    """Board time from which it holds."""
    board0_ms: float
    utc0_ms: float
    drift_ppm: float
    u_ms: float
    """Standard uncertainty of a time of day read off this line."""


@dataclass(frozen=True)
class TimeFit:
    """Board time to UTC for one drive."""

    pieces: tuple[Piece, ...]
    used: int
    """Readings kept of those given."""
    given: int
    remarks: tuple[Remark, ...] = field(default=())

    def utc_ms(self, board_ms):
        """UTC of board times. Scalars give a float, arrays an array. [ms since 1970]"""
        t = np.asarray(board_ms, dtype=float)
        starts = np.array([piece.from_ms for piece in self.pieces[1:]], dtype=float)
        which = np.searchsorted(starts, t, side="right")
        board0 = np.array([piece.board0_ms for piece in self.pieces])[which]
        utc0 = np.array([piece.utc0_ms for piece in self.pieces])[which]
        drift = np.array([piece.drift_ppm for piece in self.pieces])[which]
        out = utc0 + (t - board0) * (1.0 + drift * 1e-6)
        return float(out) if out.ndim == 0 else out

    @property
    def u_ms(self) -> float:
        """Worst standard uncertainty of any piece. [ms]"""
        return max(piece.u_ms for piece in self.pieces)


def fit_utc(readings: Sequence[tuple[int, int, float]]) -> TimeFit | None:
    """Fit UTC through clock readings ``(board_ms, utc_ms, round_trip_ms)``.

    Readings of a round trip below zero (the clock was set in between) are left out. Returns None
    if nothing usable is there.
    """
    rows = np.array([tuple(map(float, row)) for row in readings], dtype=float).reshape(-1, 3)
    usable = rows[rows[:, 2] >= 0.0]
    usable = usable[np.argsort(usable[:, 0], kind="stable")]
    if not len(usable):
        return None
    cuts = _jumps(usable)
    pieces, remarks, used = [], [], 0
    for start, end in zip([0, *cuts], [*cuts, len(usable)], strict=True):
        kept = _shortest_per_window(usable[start:end])
        used += len(kept)
        pieces.append(_line(kept, int(usable[start, 0])))
    for before, after in zip(pieces, pieces[1:], strict=False):
        remarks.append(_jump_remark(before, after))
    return TimeFit(tuple(pieces), used, len(rows), tuple(remarks))


def _jumps(rows: np.ndarray) -> list[int]:
    """Indices at which the computer's clock was set: the offset moves by more than the half round
    trips of both readings and ``JUMP_MS`` explain, and the next reading agrees."""
    offset = rows[:, 1] - rows[:, 0]
    half = rows[:, 2] / 2
    cuts: list[int] = []
    last = 0
    for index in range(1, len(rows)):
        allowed = half[last] + half[index] + JUMP_MS
        allowed += CRYSTAL_PPM * 1e-6 * (rows[index, 0] - rows[last, 0])
        if abs(offset[index] - offset[last]) > allowed:
            cuts.append(index)
            last = index
        elif half[index] <= half[last] or rows[index, 0] - rows[last, 0] > 10 * WINDOW_MS:
            last = index
    return cuts


def _shortest_per_window(rows: np.ndarray) -> np.ndarray:
    window = (rows[:, 0] // WINDOW_MS).astype(np.int64)
    order = np.lexsort((rows[:, 2], window))
    first = np.concatenate(([True], np.diff(window[order]) > 0))
    return rows[order][first]


def _line(rows: np.ndarray, from_ms: int) -> Piece:
    """Weighted straight line; its slope only where the span is long enough to know it."""
    half = np.maximum(rows[:, 2] / 2, 0.5)  # both clocks are read in whole milliseconds
    weight = half**-2
    board0 = float(np.average(rows[:, 0], weights=weight))
    offset = rows[:, 1] - rows[:, 0]
    offset0 = float(np.average(offset, weights=weight))
    t = rows[:, 0] - board0
    spread = float(np.sum(weight * t * t))
    slope = float(np.sum(weight * t * (offset - offset0)) / spread) if spread > 0 else 0.0
    u_slope = spread**-0.5 if spread > 0 else np.inf
    if u_slope > 20e-6 or abs(slope) > CRYSTAL_PPM * 1e-6:
        slope = 0.0
    # The truth lies anywhere within half a round trip: uniform, and not better for repeating,
    # because the delays to and fro may always differ in the same direction.
    u_ms = float(half.min()) / 3**0.5
    return Piece(from_ms, board0, board0 + offset0, slope * 1e6, u_ms)


def _jump_remark(before: Piece, after: Piece) -> Remark:
    step_s = (
        after.utc0_ms
        - before.utc0_ms
        - (after.board0_ms - before.board0_ms) * (1.0 + before.drift_ppm * 1e-6)
    ) / 1000.0
    way = "forward" if step_s > 0 else "back"
    return Remark(
        "computer_clock_set",
        f"{after.from_ms / 1000:.0f} s into the drive",
        "one steady clock",
        f"the computer's clock set {way} by {abs(step_s):.1f} s",
        "nothing to do: the board's own time is kept and only times of day are affected",
    )
