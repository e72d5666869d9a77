"""A desk whose board advances only when it is told to: the same keys give the same screens.

The desk's own worker runs as ever, with the real board's program, record and review; it merely waits at
the end of every tick until the next one is allowed. Keys are pressed while it waits.
"""

from __future__ import annotations

import asyncio
import threading

from locum.jobs import desk_session
from locum.jobs.desk import Desk

TICK_S = 1.0
"""Simulated time of a tick; the desk's own tenth of a second would only take longer to play. [s]"""


class SteppedDesk(Desk):
    """Its worker takes a step for each permit."""

    def __init__(self, setup, settings) -> None:
        super().__init__(setup, settings)
        self._permits = threading.Semaphore(0)
        self._ticks = self._allowed = 0

    def take_urgent(self) -> str:
        """Called once in every tick, when everything has been shown."""
        self._ticks += 1
        self._permits.acquire()
        return super().take_urgent()

    def close(self, timeout_s: float = 2.0) -> None:
        self._closing.set()
        self._permits.release(1_000_000)
        super().close(timeout_s)

    async def play(self, seconds: float) -> None:
        """Let so much simulated time pass, and wait until all of it has been shown. [s]"""
        steps = max(round(seconds / TICK_S), 1)
        self._allowed += steps
        self._permits.release(steps)
        while self._ticks <= self._allowed:  # it waits at the end of the first tick already
            await asyncio.sleep(0.005)


def use_long_ticks() -> None:
    """Ticks of ``TICK_S`` for every desk of this process."""
    desk_session.TICK_S = TICK_S
    desk_session.DeskLive.tick.__defaults__ = (TICK_S,)
