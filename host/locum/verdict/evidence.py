"""What is known of a case, before anything is weighed.

Jobs build an :class:`Evidence` from drives and the case; nothing here knows a store, a board or
where the facts came from. Times are seconds since the drive's start, rates are per exposed hour.
A channel that was not there is ``None``, never empty: absence of a channel is no absence of events.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

CONNECTED = ("real", "follow", "hold")
"""What fed the module: the real sensor; the stand-in copying its slow value; the stand-in steady
at a believable warm value. The last two mask glitches, ``hold`` also a slow error."""
FEET = ("normal", "still")
TAPS = ("none", "sensor", "module")


def _none() -> np.ndarray:
    return np.empty(0)


@dataclass(frozen=True)
class Stretch:
    """A part of a drive with one thing connected and one way of driving."""

    start_s: float
    end_s: float
    connected: str = "real"
    foot: str = "normal"
    watched: bool = True
    """Lines were recorded, or somebody answered "anything felt?"."""


@dataclass(frozen=True)
class Glitches:
    """Glitches of one channel, arrays of one length, sorted by time; the board's own left out."""

    t_s: np.ndarray = field(default_factory=_none)
    length_s: np.ndarray = field(default_factory=_none)
    towards_cold: np.ndarray = field(default_factory=lambda: np.empty(0, bool))
    ohm: np.ndarray | None = None
    """What was in series (towards cold) or to ground (towards hot) at its worst; None: open or
    short throughout. [ohm]"""

    def __len__(self) -> int:
        return len(self.t_s)


@dataclass(frozen=True)
class Drive:
    """One recording, at the bench or on the road."""

    hours: float
    exposed: tuple[tuple[float, float], ...] = ()
    """Spans in which the case's rule was met. [s]"""
    stretches: tuple[Stretch, ...] = ()
    """Laid end to end; empty means the real sensor and normal driving throughout."""
    kind: str = "listen"
    """``listen provoke follow reverse quiet swap``: what it was driven for."""
    tap: str = "none"
    """Where the board was cut in: ``none`` (outputs only), ``sensor`` or ``module`` end."""
    repaired: bool = False
    """After the repair; such drives count for "cured" and for nothing else."""
    node: Glitches | None = None
    """On the module's line."""
    under_mask: Glitches | None = None
    """On the real sensor's side, by the ohmmeter, while the stand-in fed the module."""
    injected_t_s: np.ndarray = field(default_factory=_none)
    injected_length_s: np.ndarray = field(default_factory=_none)
    injected_cold: np.ndarray | None = None
    """Towards cold (open)? None: all were."""
    injected_ohm: np.ndarray | None = None
    """What the module's input saw; None: open or short. [ohm]"""
    release_t_s: np.ndarray | None = None
    """Every time the held state was given up, the driver's own doing too."""
    release_regain_s: np.ndarray | None = None
    """Seconds until it was held again. [s]"""
    release_cause: tuple[str, ...] | None = None
    """Cause named by review or by a key after the bell (``driver road ours unknown none``), if
    somebody did; otherwise found here from brake and throttle."""
    brake_t_s: np.ndarray | None = None
    brake_length_s: np.ndarray | None = None
    throttle_t_s: np.ndarray | None = None
    mark_t_s: np.ndarray | None = None
    """Button or key: something was felt. When it was felt, as far as the person said. [s]"""
    offset_t_s: np.ndarray | None = None
    offset_length_s: np.ndarray | None = None
    """Shifts of the sensor return against battery negative."""


@dataclass(frozen=True)
class Account:
    """What the customer says happened before the first drive."""

    felt: int
    exposed_h: float
    spells: int = 1
    """The spell told of was the worst of so many."""


@dataclass(frozen=True)
class Known:
    """What is known of vehicle and means before the first drive."""

    budget_h: float = 40.0
    drive_h: float = 2.0
    after_min: float = 0.0
    pull_up_ohm: tuple[float, ...] = ()
    channels: tuple[str, ...] = (
        "node",
        "ohmmeter_under_mask",
        "throttle",
        "brake",
        "return_offset",
        "converter",
        "button",
    )
    """Wired or usable: ``node ohmmeter_under_mask throttle brake return_offset converter button``."""
    complaint: str = ""
    inhibit_matches: bool = True
    """The manual lists the sensor among the causes of the complaint (step "possible")."""

    def has(self, channel: str) -> bool:
        return channel in self.channels


@dataclass(frozen=True)
class Bench:
    """A bench check: ``hot_ohms`` (sensor hot against a thermometer)."""

    kind: str
    suspicious: bool
    hours: float = 0.0


@dataclass(frozen=True)
class Evidence:
    """Everything weigh may use."""

    known: Known = field(default_factory=Known)
    account: Account | None = None
    drives: tuple[Drive, ...] = ()
    bench: tuple[Bench, ...] = ()
    defect_found: str = ""
    """A physical defect somebody saw, in their words."""
    shortest_answered_s: float | None = None
    """Shortest glitch the module answers, where it was measured outside the drives."""
    module_delay_s: tuple[float, float] | None = None
    """Delay from an injection to the answer (shortest, longest), where measured. [s]"""
    alpha: float = 0.005
    """Chance of a wrong statement, declared over all looks of the case."""
    confidence: float = 0.95
    """For limits and for "cured"."""

    @property
    def hours(self) -> float:
        """Recorded hours and bench time."""
        return sum(drive.hours for drive in self.drives) + sum(b.hours for b in self.bench)
