"""The world around a virtual board: vehicle, weather, driver, sensor circuit, module.

Time is an argument, in integer milliseconds; results do not depend on how it is cut. Four sources
hold their next event's time: the vehicle (a tick every whole second and the ends of pieces of road),
the faults, the driver, the module. ``step`` carries events out in order and, before anything
electrical changes, paints the span that has passed into the arrays. Within a second the sensor's
value goes straight from one tick's to the next one's; the module takes it as constant.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from random import Random

import numpy as np

from .chain import OPEN_OHM, SHORT_OHM, Chain
from .culprits import PLACE_OF, FaultFacts, Faults, InnocentFacts
from .driver import EASED_V, IDLE_V, Driver, DriverHabits
from .module import NEVER_MS, Module, ModuleFacts
from .response import shortest_answered_s
from .sensor import Thermistor
from .vehicle import Coolant, Trip, TripHabits

LINE_CLUTCH, LINE_FAN, LINE_BRAKE, LINE_IGNITION = 1, 2, 3, 4
RAMP = np.arange(4096, dtype=float)
TICK_MS = 1000


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
    asleep_h: float = 40.0


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


class World:
    """See ``step``; made by ``scenarios.make_demo_world`` or ``scenarios.world_of_case``."""

    def __init__(self, facts: WorldFacts, seed: int) -> None:
        rng = Random(seed)

        def own() -> Random:
            return Random(rng.getrandbits(64))

        self.truth = WorldTruth(facts)
        self.now_ms = 0
        self.levels = {line: 0 for line in range(1, 7)}
        self.coolant = Coolant(facts.weather_c, facts.weather_c, own())
        self.trip = Trip(facts.trip, own())
        self.driver = Driver(facts.driver, own(), own())
        self.faults = Faults(facts.fault, facts.innocent, own())
        self.module = Module(facts.module, own(), self)
        self.chain = Chain()
        self._own = own()
        self.wet = False
        self.driving = False
        self.running = False
        self._run_ms = 0
        self._swing_c = self._swing_to_c = 0.0
        self._brakes = 0
        self.offset_v = 0.015
        self._load = Load()
        self._cold_cause = "trip"
        self._shortest_s: float | None = None
        self._tick_ms = 0
        self._piece_ms = NEVER_MS
        self._now_ohm = self._next_ohm = facts.sensor.ohm(facts.weather_c)
        self._scene: Scene | None = None
        self._base_ms = self._painted_ms = 0
        self._set_level(LINE_FAN, False)
        self._set_level(LINE_IGNITION, True)
        self._feed(0, fresh=True)

    @property
    def pace(self) -> str:
        return self.trip.pace

    # stepping --------------------------------------------------------------------------------

    def step(self, t0_ms: int, t1_ms: int, load: Load) -> Scene:
        """Advance from ``t0_ms`` to ``t1_ms`` with ``load`` on the module's input all the while.

        ``t0_ms`` must be where the last call ended; at most 4096 ms a call.
        """
        if t0_ms != self.now_ms or not t0_ms <= t1_ms <= t0_ms + len(RAMP):
            raise ValueError(f"world is at {self.now_ms} ms; asked for {t0_ms}..{t1_ms} ms")
        n = t1_ms - t0_ms
        scene = Scene(np.empty(n), np.empty(n), [], [], 0.0, self.offset_v, 5.04, 0.0)
        scene.lively = not self.chain.quiet
        self._scene, self._base_ms, self._painted_ms = scene, t0_ms, t0_ms
        if load != self._load:
            self._change_load(t0_ms, load)
        while True:
            t = min(
                self._tick_ms,
                self._piece_ms,
                self.faults.next_ms,
                self.driver.next_ms,
                self.module.next_ms,
            )
            if t >= t1_ms:
                break
            self._at(t)
        self._paint(t1_ms)
        self.now_ms = t1_ms
        scene.throttle_v = self.driver.throttle_v
        scene.true_temperature_c = self.coolant.coolant_c
        if self.driver.marks:
            scene.marks, self.driver.marks = self.driver.marks, []
        if scene.edges:
            scene.lively = True
        self._scene = None
        return scene

    def _at(self, t: int) -> None:
        if t == self._tick_ms:
            self._tick(t)
        if t == self._piece_ms:
            self._piece_ends(t)
        if t == self.faults.next_ms:
            self.faults.at(t, self)
        elif t == self.driver.next_ms:
            before = self.driver.throttle_v
            self.driver.at(t, self)
            if self.driver.throttle_v != before and self._scene is not None:
                self._scene.throttle.append((t, self.driver.throttle_v))
        elif t == self.module.next_ms:
            self.module.at(t)

    def _tick(self, t: int) -> None:
        self._paint(t)
        if self.running:
            self._run_ms += TICK_MS
        facts = self.truth.facts
        if self.driving and self.exposed(facts.fault.after_min, facts.fault.above_c):
            self.truth.exposed_ms += TICK_MS
        self.coolant.second(self.pace if self.running else "off", self.module.fan)
        if self._swing_c != self._swing_to_c:
            gap = self._swing_to_c - self._swing_c
            self._swing_c += min(1.0, max(-1.0, gap))
        self._now_ohm = self._next_ohm
        self._next_ohm = facts.sensor.ohm(self.coolant.sensor_c, self._swing_c)
        self._tick_ms = t + TICK_MS
        self._feed(t)

    def _piece_ends(self, t: int) -> None:
        if self.pace == "road":
            if self.driver.still:  # a steady road goes on while the foot is asked to be still
                self._piece_ms = t + 30_000
                return
            slow_ms = self._own.uniform(3000, 6000)
            self.driver.lift(t, t + slow_ms)
            self.driver.push(t + 400, "brake_on")
            self.driver.push(t + slow_ms - 300, "brake_off")
            self.module.reason(t, "speed", True, 2.0)
        was = self.pace
        self._piece_ms = self.trip.next_piece(t)
        self.driver.set_base(self.pace)
        if self.pace == "road" and was != "road":
            self.driver.push(t + 6000, "at_speed")
        if not self.driver.busy:
            self._set_throttle(t)

    def _set_throttle(self, t: int) -> None:
        volts = self.driver.base_v
        if volts != self.driver.throttle_v:
            self.driver.throttle_v = volts
            if self._scene is not None:
                self._scene.throttle.append((t, volts))

    # electricity -----------------------------------------------------------------------------

    def _load_ohm(self, lead_ohm: float) -> float:
        load = self._load
        if load.kind == "sensor":
            return lead_ohm
        if load.kind == "standin":
            return load.ohm
        if load.kind == "open":
            return OPEN_OHM
        if load.kind == "short":
            return SHORT_OHM
        return lead_ohm * load.ohm / (lead_ohm + load.ohm)

    def _volts(self, sensor_ohm: float) -> tuple[float, float, float]:
        """(pin, node, lead ohms) for a value of the sensor element."""
        lead = self.chain.lead_ohm(sensor_ohm)
        open_v, pull_up_ohm = self.module.source()
        pin_v, node_v = self.chain.volts(open_v, pull_up_ohm, self._load_ohm(lead))
        return pin_v, node_v, lead

    def _feed(self, t: int, fresh: bool = False) -> None:
        """Tell the module its pin's voltage, and keep both ends of this second's ramp."""
        pin_v, self._node_a, self._lead_a = self._volts(self._now_ohm)
        _, self._node_b, self._lead_b = self._volts(self._next_ohm)
        self.module.feed(t, pin_v, fresh)

    def _paint(self, t: int) -> None:
        """Fill the arrays up to ``t`` with what has been since the last change."""
        a, b = self._painted_ms - self._base_ms, t - self._base_ms
        scene = self._scene
        if b <= a or scene is None:
            return
        start = self._painted_ms - (self._tick_ms - TICK_MS)
        ramp = RAMP[start : start + b - a]
        for array, low, high in (
            (scene.node_v, self._node_a, self._node_b),
            (scene.sensor_ohm, self._lead_a, self._lead_b),
        ):
            span = array[a:b]
            if low == high:
                span.fill(low)
            else:
                np.multiply(ramp, (high - low) / TICK_MS, out=span)
                span += low
        self._painted_ms = t

    def _change_load(self, t: int, load: Load) -> None:
        old, self._load = self._load, load
        jump = load.kind != old.kind or not 0.8 < load.ohm / max(old.ohm, 1e-3) < 1.25
        if load.kind != "sensor" and jump:
            self._cold_cause = "stand_in"
        if self._scene is not None and load.kind != old.kind:
            self._scene.lively = True
        self._feed(t)

    # what the sources call -------------------------------------------------------------------

    def exposed(self, after_min: float, above_c: float) -> bool:
        """Whether the fault could come now."""
        warm = self.coolant.coolant_c >= above_c
        return self.driving and warm and self._run_ms >= after_min * 60_000

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

    def fault_begins(self, t: int, length_s: float, hot: bool) -> None:
        """A dropout, pulse or event of the culprit begins."""
        culprit = self.truth.culprit
        end_ms = t + 1000 * length_s
        if culprit in PLACE_OF:
            self._disturb(t, PLACE_OF[culprit], length_s, hot, culprit)
        elif culprit == "another_input":
            if self._comes_while_slowing(t, length_s):
                self.brake(t, True, "bad_brake")
                self.faults.end_later(end_ms, "end")
        elif culprit == "ground":
            self._set_offset(t, self._own.uniform(0.2, 0.6))
            if length_s >= self._shortest():
                self.module.reason(t, "ground", True, self.module.facts.delay_s + length_s)
                self.faults.end_later(end_ms, "end", "ground")
            else:
                self.faults.end_later(end_ms, "end")
        elif culprit == "hydraulic":
            if self.module.locked:
                self.truth.kick_outs.append((t, culprit))
                self.driver.feel(t, self.driver.habits.button_hit)
        elif culprit == "sensor_drift":
            self._swing_to_c = self.truth.facts.fault.drift_swing_c
            self.faults.end_later(end_ms + 25_000, "end")
        elif culprit == "nothing":
            self._misread_act(t)

    def fault_ends(self, t: int, name: str = "") -> None:
        culprit = self.truth.culprit
        if culprit == "another_input":
            self.brake(t, False, "bad_brake")
        elif culprit == "sensor_drift":
            self._swing_to_c = 0.0
        elif culprit == "ground":
            self._set_offset(t, 0.015)
            if name:
                self.module.reason(t, name, False)

    def innocent_begins(self, t: int, place: str, length_s: float) -> None:
        self._disturb(t, place, length_s, False, "innocent")

    def _disturb(self, t: int, place: str, length_s: float, hot: bool, cause: str) -> None:
        self._paint(t)
        residual = 5.0 if hot else self.truth.facts.fault.residual_ohm
        self.chain.disturb(place, residual, not hot)
        if self.chain.reaches_module(place, self._load.kind in ("sensor", "both")):
            self._cold_cause = cause
        self.truth.glitches.append((t, length_s, place, cause == "innocent"))
        self.faults.end_later(t + max(1.0, 1000 * length_s), "calm", place)
        if self._scene is not None:
            self._scene.lively = True
        self._feed(t)

    def place_calms(self, t: int, place: str) -> None:
        self._paint(t)
        self.chain.calm(place)
        self._feed(t)

    def _comes_while_slowing(self, t: int, length_s: float) -> bool:
        """A switch that chatters only when the throttle is eased: ease it, unless the foot is
        still; the easing alone does not release the clutch."""
        share = self.truth.facts.fault.only_when_slowing
        if share <= 0:
            return True
        slows, keep = self._own.random() < share, self._own.random()
        if not slows:
            return True
        if self.driver.still and keep >= self.driver.habits.still_foot_factor:
            return False
        self.driver.push(t, "ease", EASED_V)
        self.driver.push(t + 1000 * length_s + 1000, "eased", EASED_V)
        return True

    def _misread_act(self, t: int) -> None:
        """An own act that the customer takes for a fault."""
        keep = self._own.random()
        if self.driver.still and keep >= self.driver.habits.still_foot_factor:
            return
        end_ms = t + self._own.uniform(1000, 3000)
        self.driver.lift(t, end_ms + 800)
        if self._own.random() < self.driver.habits.brake_share:
            self.driver.push(t + 200, "brake_on")
            self.driver.push(end_ms, "brake_off")
        self.driver.feel(t + 300, self.driver.habits.button_hit)

    def _shortest(self) -> float:
        if self._shortest_s is None:
            self._shortest_s = shortest_answered_s(self.module.facts)
        return self._shortest_s

    def _set_offset(self, t: int, volts: float) -> None:
        self.offset_v = volts
        if self._scene is not None:
            self._scene.offsets.append((t, volts))
            if abs(volts) > abs(self._scene.return_offset_v):
                self._scene.return_offset_v = volts

    # what the module calls -------------------------------------------------------------------

    def on_clutch(self, t: int, on: bool, reason: str) -> None:
        self._set_level(LINE_CLUTCH, on, t)
        if on:
            return
        causes = {"bad_brake": "another_input", "ground": "ground", "speed": "trip"}
        if reason in ("cold", "hot"):
            cause = self._cold_cause
            if cause == "trip" and self.truth.culprit == "sensor_drift":
                cause = "sensor_drift"
        else:
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
        self._paint(t)
        if self._scene is not None:
            self._scene.lively = True
        self._feed(t, fresh=True)

    def _set_level(self, line: int, on: bool, t: int | None = None) -> None:
        level = int(on != (line in self.truth.facts.active_low))
        if self.levels[line] != level:
            self.levels[line] = level
            if t is not None and self._scene is not None:
                self._scene.edges.append((t, line, level))

    # what people do --------------------------------------------------------------------------

    def tell(self, event: str, **facts) -> None:
        """What operator and driver are told or do, at the present time.

        ``engine_start`` (cold_c=..., or nothing: as it is), ``drive`` (wet=False, weather_c=...),
        ``park``, ``engine_stop``, ``foot_still`` (on=True), ``repair``, ``tap``
        (where="sensor"|"module"|"none"), ``cool_down`` (hours=...: time away between drives; the
        clock does not move). Edges that follow at once belong to the next ``step``.
        """
        acts = {
            "engine_start": self._engine_start,
            "engine_stop": self._engine_stop,
            "drive": self._drive,
            "park": self._park,
            "foot_still": self._foot_still,
            "repair": self._repair,
            "tap": self._tap,
            "cool_down": self._cool_down,
        }
        if event not in acts:
            raise ValueError(f"unknown event '{event}'; known: {', '.join(acts)}")
        acts[event](**facts)

    def _settle_temperature(self) -> None:
        self._now_ohm = self._next_ohm = self.truth.facts.sensor.ohm(self.coolant.sensor_c)
        self._feed(self.now_ms)

    def _engine_start(self, cold_c: float | None = None) -> None:
        if cold_c is not None:
            self.coolant.set(cold_c)
            self._settle_temperature()
        self.running = True
        self._run_ms = 0
        if self.pace == "off":
            self.trip.pace = "idle"

    def _engine_stop(self) -> None:
        self._park()
        self.running = False
        self.trip.pace = "off"

    def _drive(self, wet: bool = False, weather_c: float | None = None) -> None:
        if self.driving:
            self._park()
        if not self.running:
            self._engine_start()
        if weather_c is not None:
            self.coolant.ambient_c = float(weather_c)
        self.wet = wet
        self.driving = True
        self.faults.new_drive()
        self._piece_ms = self.trip.drive_off(self.now_ms)
        self.driver.drive_off(self.now_ms)
        self.driver.set_base(self.pace)
        self.driver.throttle_v = self.driver.base_v
        if self.pace == "road":
            self.driver.push(self.now_ms + 6000, "at_speed")

    def _park(self) -> None:
        if not self.driving:
            return
        self.driving = False
        self.driver.park()
        if self.pace == "road":  # nobody stops without foot and brake
            self.driver.lift(self.now_ms, self.now_ms + 5000)
            self.driver.push(self.now_ms + 300, "brake_on")
            self.driver.push(self.now_ms + 4000, "brake_off")
        if "speed" not in self.module.reasons:
            self.module.reason(self.now_ms, "speed", True, 1.0)
        self._piece_ms = NEVER_MS
        self.trip.pace = "idle"
        self.driver.set_base("idle")
        self.driver.throttle_v = IDLE_V

    def _foot_still(self, on: bool = True) -> None:
        self.driver.ask_foot_still(on)

    def _repair(self) -> None:
        self.faults.repair()
        self._swing_to_c = 0.0
        if self.truth.facts.sensor.drift_c:
            self.repair_sensor()

    def repair_sensor(self) -> None:
        """A drifted sensor is exchanged for one that is on its table."""
        self.truth.facts = replace(self.truth.facts, sensor=Thermistor())
        self._settle_temperature()

    def _tap(self, where: str = "module") -> None:
        if where not in ("none", "sensor", "module"):
            raise ValueError(f"tap at '{where}'; known: none, sensor, module")
        facts = self.truth.facts
        touched = where == "sensor" and self.chain.tap != "sensor"
        wiped = touched and self._own.random() < facts.wipe_sensor_plug
        if wiped and facts.fault.culprit == "connector":
            self.faults.asleep_h = self._own.expovariate(1 / facts.asleep_h)
        self.chain.tap = where
        self._feed(self.now_ms)

    def _cool_down(self, hours: float = 8.0) -> None:
        self._engine_stop()
        self.coolant.cool_down(hours)
        self._settle_temperature()
