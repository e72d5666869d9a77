"""What a world is given, what it gives back, and what it is made of."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .chain import OPEN_OHM
from .culprits import FaultFacts, InnocentFacts
from .driver import DriverHabits
from .module_facts import ModuleFacts
from .sensor import Thermistor
from .vehicle import TripHabits

LINE_CLUTCH, LINE_FAN, LINE_BRAKE, LINE_IGNITION = 1, 2, 3, 4


@dataclass(frozen=True)
class Load:
    """What sits on the module's input."""

    kind: str = "sensor"
    """``sensor``, ``standin``, ``open``, ``short`` or ``both`` (the relay moving: sensor and
    stand-in side by side)."""
    ohm: float = OPEN_OHM
    """Ohms of the stand-in, for ``standin`` and ``both``."""


@dataclass
class Scene:
    """What happened in [t0_ms, t1_ms); arrays at 1 kHz, index = ms - t0_ms."""

    node_v: np.ndarray
    """True volts between the board's LINE and its ground (the sensor return)."""
    sensor_ohm: np.ndarray
    """The real sensor's lead as an ohmmeter would see it; 1e9 = open. In ``sensor`` and
    ``both`` the module is on that lead too and this says what it would read alone."""
    edges: list[tuple[int, int, int]]
    """(t_ms, line, level): voltage level at the watch input, before polarity."""
    marks: list[int]
    """Button presses, t_ms."""
    throttle_v: float
    """At the end of the span."""
    return_offset_v: float
    """Greatest |offset| in the span, signed: return wire against battery negative."""
    vbus_v: float
    true_temperature_c: float
    """Coolant at the end of the span."""
    throttle: list[tuple[int, float]] = field(default_factory=list)
    """(t_ms, volts) whenever it changed within the span."""
    offsets: list[tuple[int, float]] = field(default_factory=list)
    """(t_ms, volts) whenever the return offset changed within the span."""
    lively: bool = True
    """False: node and ohms moved by nothing but slow temperature in this span (a body may take
    a short way)."""


@dataclass(frozen=True)
class WorldFacts:
    """Everything that makes a world what it is."""

    module: ModuleFacts = ModuleFacts()
    fault: FaultFacts = FaultFacts()
    innocent: InnocentFacts = InnocentFacts()
    driver: DriverHabits = DriverHabits()
    trip: TripHabits = TripHabits()
    sensor: Thermistor = Thermistor()
    weather_c: float = 14.0
    active_low: frozenset[int] = frozenset({LINE_FAN})
    """Lines whose load is switched to ground."""
    wipe_sensor_plug: float = 0.0
    """Chance that cutting in at the sensor's plug puts a bad connector to sleep."""
    wipe_other: float = 0.0
    """Chance of that for any other cutting in near a bad contact."""
    asleep_h: float = 40.0
    """Mean exposed hours for which it then sleeps."""


@dataclass
class WorldTruth:
    """What really happened; never given to review or verdict."""

    facts: WorldFacts
    kick_outs: list[tuple[int, str]] = field(default_factory=list)
    """(t_ms, cause): the culprit's name, ``innocent``, ``stand_in``, ``driver`` or ``trip``."""
    glitches: list[tuple[int, float, str, bool]] = field(default_factory=list)
    """(t_ms, length_s, place, harmless?) of the sensor line."""
    exposed_ms: int = 0
    """Time in which the fault could come."""

    @property
    def culprit(self) -> str:
        return self.facts.fault.culprit
