"""Did the computer sleep? Told from its two clocks, and from a wait that took far too long.

A laptop whose lid was shut has lost time in one of two ways: the clock that never jumps stood while
the wall's clock ran on (Linux, macOS), or both ran on and a short wait came back late (Windows). A
clock that a person or the network has set looks like the first; the board's own clock tells them
apart (:func:`slept_s`).
"""

from __future__ import annotations

from dataclasses import dataclass

from locum.errors import Remark
from locum.link.clock import Clock

ASLEEP_S = 5.0
"""Less than this is a busy computer, or a clock put right by the network. [s]"""


@dataclass(frozen=True)
class Lapse:
    """What is missing between two looks. [s]"""

    wall_s: float = 0.0
    """The wall's clock ran ahead of the steady one by so much."""
    stood_s: float = 0.0
    """A wait came back so much too late by the steady clock."""

    @property
    def suspect(self) -> bool:
        return max(self.wall_s, self.stood_s) > ASLEEP_S


class Wakefulness:
    """Watches the waits of one job.

    ``look`` is called after each wait, with what was asked for; it gives the lapse since the last.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._steady_s, self._wall = clock.now_s(), clock.utc()

    def wait(self, seconds: float) -> Lapse:
        """Wait by the clock, and tell what was slept away since the last wait."""
        before_s = self._clock.now_s()
        self._clock.wait(seconds)
        steady_s, wall = self._clock.now_s(), self._clock.utc()
        ahead_s = (wall - self._wall).total_seconds() - (steady_s - self._steady_s)
        stood_s = steady_s - before_s - max(0.0, seconds)
        self._steady_s, self._wall = steady_s, wall
        return Lapse(max(0.0, ahead_s), max(0.0, stood_s))


def slept_s(lapse: Lapse, board_s: float | None, steady_s: float) -> float:
    """How long the computer slept; 0 if only its clock was set. [s]

    ``board_s`` is how far the board's clock went in the same time in which the computer's steady
    clock went ``steady_s``; None after a restart of the board, when there is nothing to compare.
    """
    if not lapse.suspect:
        return 0.0
    if lapse.stood_s >= lapse.wall_s:
        return lapse.stood_s
    if board_s is not None and board_s - steady_s < lapse.wall_s / 2:
        return 0.0
    return lapse.wall_s


def was_asleep(seconds: float) -> Remark:
    """The warning of a computer that slept."""
    return Remark(
        "computer_slept",
        "",
        "a computer that stays awake",
        f"{seconds:.0f} s asleep; the board was on its own",
        "keep the lid open or switch sleep off while a drive is recorded",
    )


def clock_set(seconds: float) -> Remark:
    """The warning of a wall clock that was set while the board's clock shows nothing was lost."""
    return Remark(
        "computer_clock_set",
        "",
        "one steady clock",
        f"the computer's clock set forward by {seconds:.0f} s",
        "nothing to do: the board's own time is kept and only times of day are affected",
    )
