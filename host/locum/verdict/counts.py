"""What one drive comes to: bursts of kick-outs, hours by arm, glitches and their answers."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True)
class Burst:
    """Kick-outs within a minute, told by the first."""

    t_s: float
    drive: int
    masked: bool
    hold: bool
    still: bool
    count: int
    linked: bool
    """A long enough glitch on the module's line came within the look-back."""
    near: bool
    """A glitch of any length on the module's line came within the look-back."""
    brake_s: float | None
    """Length of a brake pulse in the look-back, too short for a foot."""
    offset: bool
    pressed: bool
    link_chance: float = 0.0
    """Share of the like minutes around it that lies in look-backs of long enough glitches."""
    near_chance: float = 0.0
    """The same of all glitches, of any length."""
    brake_chance: float = 0.0
    """The same for short brake pulses."""
    offset_chance: float = 0.0
    """The same for shifts of the return wire."""


@dataclass
class Answers:
    """Long enough glitches (bursts of them), the state held: how many were followed?"""

    followed: int = 0
    total: int = 0

    def add(self, yes: bool) -> None:
        self.followed += yes
        self.total += 1


@dataclass
class Tally:
    """Counts of one drive."""

    hours: dict[tuple[str, str], float] = field(default_factory=dict)
    """Exposed, watched hours by (connected, foot). [h]"""
    bursts: list[Burst] = field(default_factory=list)
    own: int = 0
    """Releases the driver explains, in exposed time."""
    own_pressed: dict[str, int] = field(default_factory=lambda: {"normal": 0, "still": 0})
    """Presses that belong to the driver's own releases, by foot."""
    felt_only: dict[str, int] = field(default_factory=lambda: {"normal": 0, "still": 0})
    """Presses in exposed time without any release near, by foot."""
    felt_outside: int = 0
    """The same outside exposed time."""
    outside: dict[str, int] = field(default_factory=lambda: {"normal": 0, "still": 0})
    """Kick-outs (bursts) outside exposed time, where the fault cannot show: what the channels miss
    of the driver's acts."""
    outside_by_foot_h: dict[str, float] = field(
        default_factory=lambda: {"normal": 0.0, "still": 0.0}
    )
    real: Answers = field(default_factory=Answers)
    """Glitches heard on the node, the real sensor feeding."""
    real_cold: Answers = field(default_factory=Answers)
    """Those of them towards cold: cut in at the sensor's end, only what lies beyond can do that."""
    under_mask: Answers = field(default_factory=Answers)
    """Glitches of the real sensor by the ohmmeter, the stand-in feeding."""
    line: Answers = field(default_factory=Answers)
    """Glitches on the node while the stand-in fed the module."""
    heard: dict[str, int] = field(default_factory=lambda: dict.fromkeys(("real", "ohm", "line"), 0))
    """Glitches of any length, each."""
    brake_pulses: np.ndarray = field(default_factory=lambda: np.empty(0))
    """Lengths of all brake pulses in exposed time. [s]"""
    brake_at_release: np.ndarray = field(default_factory=lambda: np.empty(0))
    """Lengths of brake pulses within the look-back of a release. [s]"""
    offsets: int = 0

    @property
    def outside_h(self) -> float:
        return sum(self.outside_by_foot_h.values())

    def hours_in(self, masked: bool | None = None, still: bool | None = None) -> float:
        """Exposed hours of an arm; None: either. [h]"""
        return sum(
            hours
            for (connected, foot), hours in self.hours.items()
            if masked in (None, connected != "real") and still in (None, foot == "still")
        )

    def count(self, masked: bool | None = None, still: bool | None = None) -> int:
        return len(self.select(masked, still))

    def select(self, masked: bool | None = None, still: bool | None = None) -> list[Burst]:
        return [
            burst
            for burst in self.bursts
            if masked in (None, burst.masked) and still in (None, burst.still)
        ]
