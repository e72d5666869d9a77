"""How many readings a second a player reaches, and its longest gap: Linux promises neither.

It keeps to time far better where it lets the player's thread go before ordinary programs (POSIX
real-time scheduling, ``sched(7)``), which root may have, and others where ``limits.conf(5)`` gives
them ``rtprio``.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

PLAYER_FIRST = 20
TALK_NEXT = 10
"""Real-time priorities, of 1..99: talk holds what both need, so it must not wait for others either."""


@contextmanager
def ahead_of_others(priority: int) -> Iterator[bool]:
    """Ask the system to let the calling thread run before ordinary programs; whether it does."""
    if not hasattr(os, "sched_setscheduler"):
        yield False
        return
    try:
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(priority))
    except OSError:
        yield False
        return
    try:
        yield True
    finally:
        os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))


@dataclass(frozen=True)
class Reached:
    """What a player reached over a while."""

    readings: int
    seconds: float
    longest_gap_ms: float
    first: bool = False
    """The system lets the player run before ordinary programs."""

    @property
    def rate_hz(self) -> float:
        return self.readings / self.seconds if self.seconds > 0 else 0.0

    @property
    def words(self) -> str:
        return (
            f"{self.rate_hz:.0f} readings a second, longest gap {self.longest_gap_ms:.0f} ms, "
            + ("ahead of other programs" if self.first else "waiting its turn among other programs")
        )


class Pace:
    """Counts the beats of a player; told by the thread that plays, asked by any other."""

    def __init__(self) -> None:
        self._state = (0, 0.0, 0.0, 0.0)
        """Readings, first and last moment [s], longest gap [s]: one object, so never half new."""
        self.first = False
        """The system lets the player run before ordinary programs."""

    def beat(self, now_s: float) -> None:
        """One reading was taken at ``now_s``, a clock that only goes forward."""
        readings, first, last, gap = self._state
        if not readings:
            first = last = now_s
        self._state = (readings + 1, first, now_s, max(gap, now_s - last))

    def reached(self) -> Reached:
        """Over all beats since the start or :meth:`restart`. The first one only starts the time."""
        readings, first, last, gap = self._state
        return Reached(max(0, readings - 1), last - first, 1000.0 * gap, self.first)

    def restart(self) -> None:
        self._state = (0, 0.0, 0.0, 0.0)
