"""Time as the jobs see it: they ask it and wait by it, and never sleep by themselves.

On a real board waiting is sleeping; on a virtual board waiting *is* what makes the board's world
go on, as fast as it can or at a chosen multiple of real time.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """What a job needs of time."""

    def now_s(self) -> float:
        """Seconds on a clock that never jumps. [s]"""
        ...

    def utc(self) -> datetime:
        """Aware UTC time of the world the board is in."""
        ...

    def wait(self, seconds: float) -> None:
        """Come back after ``seconds``; nothing for zero or less."""
        ...


class RealClock:
    """The computer's own time."""

    def now_s(self) -> float:
        return time.monotonic()

    def utc(self) -> datetime:
        return datetime.now(UTC)

    def wait(self, seconds: float) -> None:
        if seconds > 0:
            time.sleep(seconds)


class Advancing(Protocol):
    """What a virtual clock drives: a body whose time goes on when told."""

    elapsed_ms: int
    start_utc: datetime

    def advance(self, milliseconds: int) -> None: ...


class VirtualClock:
    """Waiting advances a simulated board.

    Parameters
    ----------
    body : Advancing
        The virtual body. Several clocks may share one.
    speed : float or None
        Multiple of real time to keep to; None: as fast as it goes.
    """

    def __init__(self, body: Advancing, speed: float | None = None) -> None:
        self._body = body
        self._speed = speed
        self._left_over_ms = 0.0
        self._pace_from: tuple[float, int] | None = None

    def now_s(self) -> float:
        return self._body.elapsed_ms / 1000.0

    def utc(self) -> datetime:
        return self._body.start_utc + timedelta(milliseconds=self._body.elapsed_ms)

    def wait(self, seconds: float) -> None:
        if seconds <= 0:
            return
        wanted = seconds * 1000.0 + self._left_over_ms
        whole = int(wanted)
        self._left_over_ms = wanted - whole
        if self._speed and self._pace_from is None:
            self._pace_from = (time.monotonic(), self._body.elapsed_ms)
        self._body.advance(whole)
        if self._speed and self._pace_from is not None:
            self._keep_pace(self._speed, self._pace_from)

    def _keep_pace(self, speed: float, pace_from: tuple[float, int]) -> None:
        wall_s, body_ms = pace_from
        ahead = wall_s + (self._body.elapsed_ms - body_ms) / 1000.0 / speed - time.monotonic()
        if ahead > 0:
            time.sleep(ahead)
        elif ahead < -1.0:
            # Fallen behind (a busy machine): go on from here rather than rush.
            self._pace_from = (time.monotonic(), self._body.elapsed_ms)
