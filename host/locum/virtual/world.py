"""The world around a virtual board: vehicle, weather, driver, sensor circuit, module.

Time is an argument, in integer milliseconds; results do not depend on how it is cut.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

OPEN_OHM = 1e9
"""What the sensor lead reads when nothing is connected."""

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


class World:
    """See ``step``; made by ``scenarios.make_demo_world`` or ``scenarios.world_of_case``."""

    levels: dict[int, int]
    """Present voltage level of each watch line (1-6)."""

    def step(self, t0_ms: int, t1_ms: int, load: Load) -> Scene:
        """Advance from t0 to t1 (t0 must be where the last call ended)."""
        raise NotImplementedError

    def tell(self, event: str, **facts) -> None:
        """What operator and driver are told or do, at the present time.

        ``drive`` (wet=False, weather_c=..., wait=s), ``park``, ``engine_start`` (cold_c=...),
        ``foot_still`` (on=True), ``repair``, ``tap`` (where="sensor"|"module"|"none"),
        ``cool_down`` (hours=...): time away between drives, the clock does not move.
        """
        raise NotImplementedError
