"""Engine heat and the trip: coolant with a thermostat, and a road that comes in pieces.

One lump of coolant on a fixed grid of whole seconds:

    dT/dt = q - (T - Ta) (g0 + g1 z air),    z follows clip((T - 82)/13, 0, 1) with a lag

``q`` is the heat of the present driving, ``air`` what passes the radiator (speed, fan). Figures are
tuned to common practice: 20 to 80 degC in 6-9 min of driving, 86-92 degC on the road, about 100 degC
and the fan when standing, hours to cool down. The sensor follows the coolant with 12 s (a published
response time is 15 s).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random

HEAT = {"off": 0.0, "idle": 0.075, "town": 0.13, "road": 0.17}
"""Warming without losses. [K/s]"""
AIR = {"off": 0.02, "idle": 0.08, "town": 0.5, "road": 1.0}
LOSS_RUNNING_PER_S, LOSS_OFF_PER_S = 4.0e-4, 1.4e-4
RADIATOR_PER_S = 4.2e-3
THERMOSTAT_OPENS_C, THERMOSTAT_SPAN_K, THERMOSTAT_LAG_S = 82.0, 13.0, 14.0
FAN_AIR = 0.7
SENSOR_LAG_S = 12.0


class Coolant:
    """True temperature, a second at a time."""

    def __init__(self, start_c: float, ambient_c: float, rng: Random) -> None:
        self.coolant_c = self.sensor_c = float(start_c)
        self.ambient_c = float(ambient_c)
        self.rng = rng
        self._opening = 0.0
        self._load = 0.0

    def set(self, celsius: float) -> None:
        self.coolant_c = self.sensor_c = float(celsius)
        self._opening = min(1.0, max(0.0, (celsius - THERMOSTAT_OPENS_C) / THERMOSTAT_SPAN_K))

    def second(self, pace: str, fan: bool) -> None:
        """One second of ``off``, ``idle``, ``town`` or ``road``."""
        self._load += -self._load / 40 + 0.05 * (self.rng.random() - 0.5)
        air = AIR[pace] + (FAN_AIR if fan else 0.0)
        loss = LOSS_OFF_PER_S if pace == "off" else LOSS_RUNNING_PER_S
        loss += RADIATOR_PER_S * self._opening * air
        heat = HEAT[pace] * (1 + self._load)
        self.coolant_c += heat - (self.coolant_c - self.ambient_c) * loss
        target = (self.coolant_c - THERMOSTAT_OPENS_C) / THERMOSTAT_SPAN_K
        self._opening += (min(1.0, max(0.0, target)) - self._opening) / THERMOSTAT_LAG_S
        self.sensor_c += (self.coolant_c - self.sensor_c) / SENSOR_LAG_S

    def cool_down(self, hours: float) -> None:
        """Stand with the engine off."""
        left = math.exp(-LOSS_OFF_PER_S * hours * 3600)
        self.set(self.ambient_c + (self.coolant_c - self.ambient_c) * left)


@dataclass(frozen=True)
class TripHabits:
    """Lengths of the pieces of road, low and high. [s]"""

    stop_s: tuple[float, float] = (10.0, 35.0)
    town_s: tuple[float, float] = (30.0, 80.0)
    road_s: tuple[float, float] = (300.0, 900.0)
    all_road: bool = False
    """One road without end: for comparison with the event level."""


class Trip:
    """Which piece of road the vehicle is on: ``off idle town road``."""

    def __init__(self, habits: TripHabits, rng: Random) -> None:
        self.habits = habits
        self.rng = rng
        self.pace = "off"

    def drive_off(self, t_ms: int) -> int:
        """Start; returns when the first piece ends."""
        if self.habits.all_road:
            self.pace = "road"
            return 1 << 62
        self.pace = "town"
        return t_ms + self._length_ms(self.habits.town_s)

    def next_piece(self, t_ms: int) -> int:
        """Go on to the next piece; returns when that one ends."""
        if self.pace == "road":
            self.pace = "town"
            return t_ms + self._length_ms(self.habits.town_s)
        if self.pace == "town" and self.rng.random() < 0.3:
            self.pace = "idle"
            return t_ms + self._length_ms(self.habits.stop_s)
        self.pace = "road"
        return t_ms + self._length_ms(self.habits.road_s)

    def _length_ms(self, span_s: tuple[float, float]) -> int:
        return round(1000 * self.rng.uniform(*span_s))
