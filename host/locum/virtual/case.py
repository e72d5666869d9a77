"""What a policy may see of a secret case, and what it may order.

``draw_case`` (generator.py) makes a :class:`Case`. A policy reads ``case.known`` and
``case.account`` and nothing else of it; it orders drives and bench checks and gets an
:class:`EventLog` or a :class:`BenchResult` back. ``case.truth`` is for the score alone.

Names of connections, the same in :class:`Stretch` and in :class:`EventLog`:

``real``    the module sees the real sensor (relay at rest);
``follow``  the stand-in copies the real sensor's slow value, glitches left out. A sensor that is
            *slowly wrong* is copied as it is: its error goes on under ``follow``;
``hold``    the stand-in feeds a steady warm value near the true temperature, so that a slow
            error of the sensor is masked too.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from .hidden import Truth

CONNECTED = ("real", "follow", "hold")
FEET = ("normal", "still")
TAPS = ("none", "sensor", "module")
BENCH_KINDS = ("hot_ohms",)
"""``hot_ohms``: the sensor's ohms hot against a thermometer. Finds a slow error, not surely."""


@dataclass(frozen=True)
class Stretch:
    """A part of a drive with one thing connected and one way of driving."""

    length_s: float
    connected: str = "real"
    """``real``, ``follow`` or ``hold``; the last two need a tap."""
    foot: str = "normal"
    """``normal`` or ``still`` (the driver is asked to keep the foot still)."""


@dataclass(frozen=True)
class Injection:
    """A glitch made by the stand-in; happens only while a stretch is ``follow`` or ``hold``."""

    at_s: float
    """Seconds since the drive's start."""
    length_s: float
    ohm: float = 1e9
    """What the module's input sees meanwhile; 1e9 = open, 0 = short."""


@dataclass(frozen=True)
class Order:
    """One drive. Stretches are laid end to end from the start; what is left of ``hours`` is
    ``real`` and ``normal``. Injections in a ``real`` stretch are dropped (not in ``injected``)."""

    hours: float
    tap: str = "none"
    """``none``: nothing touched, only output lines, brake, throttle and button are recorded.
    ``sensor`` or ``module``: cut in at that plug (stays in for later drives with the same tap)."""
    stretches: tuple[Stretch, ...] = ()
    injections: tuple[Injection, ...] = ()


def _none() -> np.ndarray:
    return np.empty(0)


@dataclass(frozen=True)
class Glitches:
    """Times the line left what physics allows; arrays of one length, sorted by ``t_s``."""

    t_s: np.ndarray = field(default_factory=_none)
    length_s: np.ndarray = field(default_factory=_none)
    towards_cold: np.ndarray = field(default_factory=lambda: np.empty(0, bool))
    residual_ohm: np.ndarray = field(default_factory=_none)
    """Ohms in series of a glitch towards cold (1e7 = open), to ground of one towards hot."""

    def __len__(self) -> int:
        return len(self.t_s)


@dataclass(frozen=True)
class EventLog:
    """What a perfect review of one drive's raw lines would see. Times in s since its start.

    A channel that is not wired is ``None``, never an empty array. Nothing here is the cause of
    anything: own acts, faults and injections stand side by side as the lines show them.
    """

    hours: float
    exposed_from_s: float
    """From here to the end the exposure rule is met (minutes and temperature); inf: never."""
    temperature_t_s: np.ndarray
    temperature_c: np.ndarray | None
    """Coarse temperature *as this sensor's ohms say* (with its slow error); None without tap."""
    stretches: tuple[tuple[float, float, str, str], ...]
    """(start_s, end_s, connected, foot as ordered): covers the whole drive."""
    node_glitches: Glitches | None
    """On the module's line, own injections left out. None without tap or node channel."""
    ohm_glitches: Glitches | None
    """On the real sensor's side while the stand-in feeds the module (empty in ``real``)."""
    injected_t_s: np.ndarray
    injected_length_s: np.ndarray
    injected_ohm: np.ndarray
    release_t_s: np.ndarray | None
    """The commanded state was given up. All of them, the driver's own too."""
    release_regain_s: np.ndarray | None
    """Seconds until the module held the state again."""
    brake_t_s: np.ndarray | None
    brake_length_s: np.ndarray | None
    throttle_t_s: np.ndarray | None
    """The foot moved enough to explain a release."""
    mark_t_s: np.ndarray | None
    """Button presses (0.5-3 s late; missed and imagined at times)."""
    offset_t_s: np.ndarray | None
    offset_length_s: np.ndarray | None
    """The return wire's offset against battery negative jumped."""


@dataclass(frozen=True)
class BenchResult:
    """Outcome of a bench check."""

    kind: str
    suspicious: bool
    """The sensor read outside what its thermometer comparison allows."""
    hours: float
    """Time it took; counts as hours of the trial."""


@dataclass(frozen=True)
class Known:
    """What the technician knows before the first drive: nothing of the fault."""

    budget_h: float
    drive_h: float
    after_min: float
    above_c: float
    pull_up_ohm: tuple[float, ...]
    """As measured: one value, or (cold stage, hot stage)."""
    open_v: float
    channels: dict[str, bool]
    """node ohmmeter_under_mask throttle brake return_offset converter button."""


@dataclass(frozen=True)
class Account:
    """What the customer says. They came when it was worst: the rate is inflated."""

    felt: int
    """Times felt in the spell that made them come."""
    exposed_h: float
    """Exposed hours of that spell."""
    spells: int
    """Number of spells they can remember; the one told of was the worst."""

    @property
    def felt_per_exposed_h(self) -> float:
        return self.felt / self.exposed_h


@dataclass
class Case:
    """One secret case; ``drive`` and ``bench`` change its memory (hours, sleeping contacts)."""

    known: Known
    account: Account
    truth: Truth = field(repr=False)
    """Hidden: culprit, rates, module. For the score and the hand method; never for a policy."""
    hours: float = 0.0
    """Hours used so far, bench checks included."""
    drives: int = 0
    memory: Any = field(default=None, repr=False)
    """The generator's own notes (what is tapped, what sleeps)."""
