"""An order carried out sample by sample, its raw lines read without error: the event log again.

``drive_in_full`` takes the same case and order as ``generator.drive`` and returns the same kind of
log, but everything in it comes from the full world's lines and arrays: a check on the event level,
and a way to let a policy work a case at full fidelity (about 30,000 times slower). The stand-in is
ideal here: no relay, no wipers, no converter.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from .case import Case, EventLog, Order
from .drawing import Memory
from .driver import CRUISE_V
from .event_arrays import NO_GLITCHES, as_array
from .layout import Layout
from .readings import LineReader, Pulses
from .scenarios import world_of_case
from .scene import LINE_BRAKE, LINE_CLUTCH, Load, Scene
from .sensor import table_c, table_ohm
from .world import World

PIECE_MS = 1000
TRACE_S = 60
PARKING_S = 10
HOLD_C = 88.0
BETWEEN_H = 12.0
OFFSET_V = 0.1
FOOT_V = 0.3
OPEN_FROM_OHM = 1e8


def drive_in_full(case: Case, order: Order, rng: np.random.Generator) -> EventLog:
    """Carry out an order in the case's full world, kept with the case from drive to drive."""
    return _FullDrive(case, order, rng).log()


class _FullDrive:
    def __init__(self, case: Case, order: Order, rng: np.random.Generator) -> None:
        memory: Memory = case.memory
        if memory.world is None:
            memory.world = world_of_case(case, int(rng.integers(1 << 60)))
        self.case, self.order = case, order
        self.world: World = memory.world
        self.layout = Layout(order, 0.0, rng)  # whether the foot obeys is the world's business
        self.end_ms = round(order.hours * 3.6e6)
        self.tapped = order.tap != "none"
        self.node = LineReader(lambda value, base: abs(value - base) > 0.3)
        self.ohm = LineReader(lambda value, base: (value > 3 * base) | (value < base / 3))
        self.clutch, self.brake, self.offset = Pulses(), Pulses(), Pulses()
        self.marks: list[float] = []
        self.throttle: list[float] = []
        self.trace: list[float] = []
        self.exposed_from_s = math.inf
        self.followed_ohm = table_ohm(HOLD_C)

    def log(self) -> EventLog:
        world, order = self.world, self.order
        world.tell("cool_down", hours=BETWEEN_H)
        world.tell("engine_start")
        if self.tapped:
            world.tell("tap", where=order.tap)
        world.tell("drive")
        self.begin_ms = world.now_ms
        foot = "normal"
        for begin, end, connected, wanted, injected in self._parts():
            if wanted != foot:
                world.tell("foot_still", on=wanted == "still")
                foot = wanted
            self._play(begin, end, connected, injected)
        world.tell("foot_still", on=False)
        world.tell("park")
        for _ in range(PARKING_S):  # foot and brake of the parking belong to this drive
            world.step(world.now_ms, world.now_ms + PIECE_MS, Load())
        self.case.hours += order.hours
        self.case.drives += 1
        return self._written()

    def _injections(self) -> list[tuple[int, int, float]]:
        """(begin_ms, end_ms, ohm) of those that fall into a stretch with the stand-in."""
        chosen = []
        for one in sorted(self.order.injections, key=lambda i: i.at_s):
            begin = round(1000 * one.at_s)
            if begin < self.end_ms and self.layout.connected_at(one.at_s) != "real":
                end = min(self.end_ms, begin + max(1, round(1000 * one.length_s)))
                chosen.append((begin, end, one.ohm))
        return chosen if self.tapped else []

    def _parts(self) -> Iterator[tuple[int, int, str, str, float | None]]:
        """The drive in parts with one load: (begin, end, connected, foot, injected ohm)."""
        self.injected = self._injections()
        for start_s, end_s, connected, foot in self.layout.stretches:
            t, last = round(1000 * start_s), round(1000 * end_s)
            for begin, end, ohm in self.injected:
                if t <= begin < last:
                    yield t, begin, connected, foot, None
                    yield begin, min(end, last), connected, foot, ohm
                    t = min(end, last)
            yield t, last, connected, foot, None

    def _load(self, connected: str, injected: float | None) -> Load:
        if injected is not None:
            return Load("open") if injected > OPEN_FROM_OHM else Load("standin", injected)
        if connected == "real":
            return Load()
        return Load("standin", self.followed_ohm if connected == "follow" else table_ohm(HOLD_C))

    def _slow_node_v(self, load: Load) -> float:
        """What LINE carries while the circuit is well."""
        ohm = self.followed_ohm if load.kind == "sensor" else load.ohm
        open_v, pull_up_ohm = self.world.module.source()
        return open_v * ohm / (ohm + pull_up_ohm)

    def _play(self, begin: int, end: int, connected: str, injected: float | None) -> None:
        if begin > 0:
            self.node.fresh(self._slow_node_v(self._load(connected, injected)))
        for t in range(begin, end, PIECE_MS):
            load = self._load(connected, injected)
            now = self.begin_ms + t
            scene = self.world.step(now, self.begin_ms + min(end, t + PIECE_MS), load)
            self._read(scene, t, injected is not None, load.kind == "sensor")

    def _read(self, scene: Scene, t: int, own: bool, real: bool) -> None:
        origin = self.begin_ms
        for at, line, level in scene.edges:
            if line == LINE_CLUTCH:
                self.clutch.level((at - origin) / 1000, level == 0)
            elif line == LINE_BRAKE:
                self.brake.level((at - origin) / 1000, level == 1)
        for at, volts in scene.offsets:
            self.offset.level((at - origin) / 1000, volts > OFFSET_V)
        self.marks += [(at - origin) / 1000 for at in scene.marks]
        self.throttle += [
            (at - origin) / 1000 for at, volts in scene.throttle if abs(volts - CRUISE_V) > FOOT_V
        ]
        if not own:
            self.node.read(t, scene.node_v, scene.lively)
        if not real:
            self.ohm.read(t, scene.sensor_ohm, scene.lively)
        if not scene.lively:
            self.followed_ohm = float(scene.sensor_ohm[-1])
        if t // 1000 // TRACE_S >= len(self.trace):
            self.trace.append(table_c(self.followed_ohm))
        rule = self.case.known
        if math.isinf(self.exposed_from_s) and self.world.exposed(rule.after_min, rule.above_c):
            self.exposed_from_s = t / 1000

    def _written(self) -> EventLog:
        has, end_s = self.case.known.channels, self.end_ms / 1000
        release_t, release_length = self.clutch.done(end_s)
        if len(release_t) and release_t[0] < 1e-9:
            release_t, release_length = release_t[1:], release_length[1:]
        brake_t, brake_length = self.brake.done(end_s)
        offset_t, offset_length = self.offset.done(end_s)
        tapped, begun = self.tapped, [i[0] / 1000 for i in self.injected]
        shows_ohm = tapped and has["ohmmeter_under_mask"]
        return EventLog(
            hours=self.order.hours,
            exposed_from_s=self.exposed_from_s,
            temperature_t_s=np.arange(len(self.trace)) * float(TRACE_S),
            temperature_c=np.array(self.trace) if tapped else None,
            stretches=self.layout.stretches,
            node_glitches=self.node.glitches() if tapped and has["node"] else None,
            ohm_glitches=(self.ohm.glitches() or NO_GLITCHES) if shows_ohm else None,
            injected_t_s=as_array(begun),
            injected_length_s=as_array([(i[1] - i[0]) / 1000 for i in self.injected]),
            injected_ohm=as_array([i[2] for i in self.injected]),
            release_t_s=release_t if has["converter"] else None,
            release_regain_s=release_length if has["converter"] else None,
            brake_t_s=brake_t if has["brake"] else None,
            brake_length_s=brake_length if has["brake"] else None,
            throttle_t_s=as_array(self.throttle) if has["throttle"] else None,
            mark_t_s=as_array(self.marks) if has["button"] else None,
            offset_t_s=offset_t if tapped and has["return_offset"] else None,
            offset_length_s=offset_length if tapped and has["return_offset"] else None,
        )
