"""The world around a virtual board: vehicle, weather, driver, sensor circuit, module.

Time is an argument, in integer milliseconds; results do not depend on how it is cut. Five sources
hold their next event's time: the tick of every whole second, the ends of pieces of road, the
faults, the driver, the module. ``step`` carries events out in order of time (in this order where
they coincide); nothing is advanced at the ends of a step.
"""

from __future__ import annotations

from random import Random

import numpy as np

from . import people
from .circuit import LONGEST_MS, TICK_MS, Circuit
from .culprits import Faults
from .driver import Driver
from .mishaps import CALM_OFFSET_V, Mishaps
from .module import NEVER_MS, Module
from .scene import (
    LINE_BRAKE,
    LINE_CLUTCH,
    LINE_FAN,
    LINE_IGNITION,
    Load,
    Scene,
    WorldFacts,
    WorldTruth,
)
from .vehicle import Coolant, Trip

__all__ = [
    "LINE_BRAKE",
    "LINE_CLUTCH",
    "LINE_FAN",
    "LINE_IGNITION",
    "Load",
    "Scene",
    "World",
    "WorldFacts",
    "WorldTruth",
]

VBUS_V = 5.04


class World:
    """See ``step`` and ``tell``; made by ``scenarios.make_demo_world`` or ``world_of_case``.

    Starts parked, engine off, ignition on, at the weather's temperature.
    """

    def __init__(self, facts: WorldFacts, seed: int) -> None:
        rng = Random(seed)

        def own() -> Random:
            return Random(rng.getrandbits(64))

        self.truth = WorldTruth(facts)
        self.now_ms = 0
        self.levels = {line: 0 for line in range(1, 7)}
        """Present voltage level of each watch line."""
        self.coolant = Coolant(facts.weather_c, facts.weather_c, own())
        self.trip = Trip(facts.trip, own())
        self.driver = Driver(facts.driver, own(), own())
        self.faults = Faults(facts.fault, facts.innocent, own())
        self.mishaps = Mishaps(self, own())
        self.module = Module(facts.module, own(), self)
        self.circuit = Circuit(self.module, facts.sensor.ohm(facts.weather_c))
        self._own = own()
        self.wet = False
        self.driving = False
        self.running = False
        self.run_ms = 0
        """Since the engine was started."""
        self.piece_ms = NEVER_MS
        """When the present piece of road ends."""
        self._tick_ms = 0
        self._brakes = 0
        self._offset_v = CALM_OFFSET_V
        self._set_level(LINE_FAN, False)
        self._set_level(LINE_IGNITION, True)

    @property
    def pace(self) -> str:
        """``off``, ``idle``, ``town`` or ``road``."""
        return self.trip.pace

    def exposed(self, after_min: float, above_c: float) -> bool:
        """Whether a fault of that rule could come now."""
        warm = self.coolant.coolant_c >= above_c
        return self.driving and warm and self.run_ms >= after_min * 60_000

    def tell(self, event: str, **facts) -> None:
        """What operator and driver are told or do, at the present time.

        ``engine_start`` (cold_c=..., or nothing: as it is), ``drive`` (wet=False, weather_c=...),
        ``park``, ``engine_stop``, ``foot_still`` (on=True), ``repair``, ``tap``
        (where="sensor"|"module"|"none"), ``cool_down`` (hours=...: time away between drives; the
        clock does not move). What follows belongs to the next ``step``. ValueError for any other.
        """
        if event not in people.ORDERS:
            raise ValueError(f"unknown event '{event}'; known: {', '.join(people.ORDERS)}")
        people.ORDERS[event](self, **facts)

    # stepping --------------------------------------------------------------------------------

    def step(self, t0_ms: int, t1_ms: int, load: Load) -> Scene:
        """Advance from ``t0_ms`` to ``t1_ms`` with ``load`` on the module's input all the while.

        ``t0_ms`` must be where the last call ended; at most 4096 ms a call. ValueError otherwise.
        """
        if t0_ms != self.now_ms or not t0_ms <= t1_ms <= t0_ms + LONGEST_MS:
            raise ValueError(f"world is at {self.now_ms} ms; asked for {t0_ms}..{t1_ms} ms")
        n = t1_ms - t0_ms
        scene = Scene(np.empty(n), np.empty(n), [], [], 0.0, self._offset_v, VBUS_V, 0.0)
        circuit, driver, faults, module = self.circuit, self.driver, self.faults, self.module
        circuit.open_scene(scene, t0_ms)
        if load != circuit.load and circuit.put(t0_ms, load):
            self.mishaps.cold_cause = "stand_in"
        while True:
            t = min(self._tick_ms, self.piece_ms, faults.next_ms, driver.next_ms, module.next_ms)
            if t >= t1_ms:
                break
            self._at(t, scene)
        circuit.close_scene(t1_ms)
        self.now_ms = t1_ms
        scene.throttle_v = driver.throttle_v
        scene.true_temperature_c = self.coolant.coolant_c
        if driver.marks:
            scene.marks, driver.marks = driver.marks, []
        scene.lively |= bool(scene.edges)
        return scene

    def _at(self, t: int, scene: Scene) -> None:
        before = self.driver.throttle_v
        if t == self._tick_ms:
            self._tick(t)
        if t == self.piece_ms:
            self._piece_ends(t)
        if t == self.faults.next_ms:
            self.faults.at(t, self)
        elif t == self.driver.next_ms:
            self.driver.at(t, self)
        elif t == self.module.next_ms:
            self.module.at(t)
        if self.driver.throttle_v != before:
            scene.throttle.append((t, self.driver.throttle_v))

    def _tick(self, t: int) -> None:
        if self.running:
            self.run_ms += TICK_MS
        fault = self.truth.facts.fault
        if self.exposed(fault.after_min, fault.above_c):
            self.truth.exposed_ms += TICK_MS
        self.coolant.second(self.pace if self.running else "off", self.module.fan)
        self.mishaps.second()
        sensor = self.truth.facts.sensor
        self.circuit.second(t, sensor.ohm(self.coolant.sensor_c, self.mishaps.swing_c))
        self._tick_ms = t + TICK_MS

    def _piece_ends(self, t: int) -> None:
        driver = self.driver
        if self.pace == "road":
            if driver.still:  # a steady road goes on while the foot is asked to be still
                self.piece_ms = t + 30_000
                return
            slow_ms = self._own.uniform(3000, 6000)
            driver.lift(t, t + slow_ms)
            driver.push(t + 400, "brake_on")
            driver.push(t + slow_ms - 300, "brake_off")
            self.module.reason(t, "speed", True, 2.0)
        self.piece_ms = self.trip.next_piece(t)
        driver.set_base(self.pace)
        if self.pace == "road":
            driver.push(t + people.TO_SPEED_MS, "at_speed")
        if not driver.busy:
            driver.throttle_v = driver.base_v

    def settle_temperature(self) -> None:
        """The sensor is as warm as the coolant is, at once."""
        ohm = self.truth.facts.sensor.ohm(self.coolant.sensor_c)
        self.circuit.set_sensor(self.now_ms, ohm)

    # what the driver does --------------------------------------------------------------------

    def reason(self, t: int, name: str, on: bool) -> None:
        self.module.reason(t, name, on, self.module.facts.foot_delay_s)

    def at_speed(self, t: int) -> None:
        if "speed" in self.module.reasons and self.pace == "road":
            self.module.reason(t, "speed", False)

    def brake(self, t: int, on: bool, name: str = "brake") -> None:
        """The brake line, by the driver or by a bad switch: the module cannot tell."""
        self._brakes += 1 if on else -1
        self._set_level(LINE_BRAKE, self._brakes > 0, t)
        self.module.brake(t, on, name)

    # what the module does --------------------------------------------------------------------

    def on_clutch(self, t: int, on: bool, reason: str) -> None:
        self._set_level(LINE_CLUTCH, on, t)
        if on:
            return
        if reason in ("cold", "hot"):
            cause = self.mishaps.cold_cause
            if cause == "trip" and self.truth.culprit == "sensor_drift":
                cause = "sensor_drift"
        else:
            causes = {"bad_brake": "another_input", "ground": "ground", "speed": "trip"}
            cause = causes.get(reason, "driver")
        self.truth.kick_outs.append((t, cause))
        habits = self.driver.habits
        own = cause in ("driver", "trip")
        self.driver.feel(t, habits.button_own if own else habits.button_hit)

    def on_fan(self, t: int, on: bool) -> None:
        self._set_level(LINE_FAN, on, t)

    def on_pulse(self, t: int) -> None:
        """The module tries its clutch driver: off for 3 ms."""
        self._set_level(LINE_CLUTCH, False, t)
        self.driver.push(t + 3, "pulse_ends")

    def pulse_ends(self, t: int) -> None:
        self._set_level(LINE_CLUTCH, self.module.locked, t)

    def on_stage(self, t: int) -> None:
        """The pull-up changes."""
        self.circuit.paint(t)
        self.circuit.stir()
        self.circuit.feed(t, fresh=True)

    def _set_level(self, line: int, on: bool, t: int | None = None) -> None:
        level = int(on != (line in self.truth.facts.active_low))
        if self.levels[line] != level:
            self.levels[line] = level
            if t is not None and self.circuit.scene is not None:
                self.circuit.scene.edges.append((t, line, level))

    def set_offset(self, t: int, volts: float) -> None:
        """Return wire against battery negative."""
        self._offset_v = volts
        scene = self.circuit.scene
        if scene is not None:
            scene.offsets.append((t, volts))
            if abs(volts) > abs(scene.return_offset_v):
                scene.return_offset_v = volts
