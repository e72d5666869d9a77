"""The virtual board: the real engine plugged into a simulated world instead of pins.

Time goes from event to event. Between two events the world says what the line and the sensor did
at 1 kHz; that is turned into converter counts and 10 ms buckets in numpy. A stretch of at most
250 ms in which nothing leaves the engine's quiet band goes to the engine as one bucket, lively
ones go one by one, so that the record is the same kind a board's is, at a thousand times its pace.

What is not as on a real board: a limit that trips within a stretch takes effect at its end (at
most 250 ms later), the comparator and the rest switch are the caller's to set, and wipers move at
once (excursions while they move are computed by ``physics.choose``, not simulated).
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, Protocol

import numpy as np

from locum.bodies.remote_engine import RemoteEngine
from locum.bodies.virtual_hands import VirtualHands
from locum_board import records, steps, ticks
from locum_board.engine import Engine
from locum_board.watching import DUTY_MS

SLICE_MS = 250
BUCKET_MS = 10
OPEN_OHM = 1e9
SHORT_OHM = 2.5
"""On-resistance of the solid-state switch that makes the short. [ohm]"""
WARM_EVERY_MS = 60_000
SLOW_EVERY_MS = 1000
TICKS_AT_START = 5000

BOTH_MS = 3
"""A make-before-break relay has both on the line for so long while it moves."""


class WorldLike(Protocol):
    """What a world must do; see ``virtual/world.py``."""

    def step(self, t0_ms: int, t1_ms: int, load: Any) -> Any: ...


class VirtualBody:
    """A board in a world.

    Parameters
    ----------
    world : WorldLike
        ``step(t0_ms, t1_ms, load) -> scene``; ``load`` is a ``virtual.world.Load``.
    network_truth : NetworkTruth
        The board's true analogue side (``virtual/analog.py``).
    board_sheet : dict
        A parsed hardware/boards/*.toml.
    seed : int
        Serial number and boot number; noise belongs to ``network_truth``.
    start_utc : datetime
        UTC at board time zero.
    slots : int
        Records the board can keep.
    interpreter : str
        ``""``: the engine runs here. ``"python"``, ``"micropython"``: in a process of its own,
        behind pipes (``remote_engine.py``); the world stays here. Close it with :meth:`close`.
    """

    def __init__(
        self,
        world: WorldLike,
        network_truth: Any,
        board_sheet: dict[str, Any] | None = None,
        seed: int = 1,
        start_utc: datetime | None = None,
        slots: int = 6000,
        interpreter: str = "",
    ) -> None:
        sheet = board_sheet or {}
        self.world = world
        self.truth = network_truth
        self.start_utc = start_utc or datetime.now(UTC).replace(microsecond=0)
        self.elapsed_ms = 0
        self.hands = VirtualHands(sheet, f"V{seed:04d}", 1 + seed * 7919 % 1_000_000)
        self.engine: Any
        if interpreter:
            self.engine = RemoteEngine(self.hands, TICKS_AT_START, slots, interpreter)
        else:
            self.engine = Engine(self.hands, TICKS_AT_START, slots)
        self.player: Any = self.engine.player
        self.observers: list[Any] = []
        """Called as ``observer(body, t0_ms, t1_ms, load, scene)`` after every stretch: monitors."""
        self._answers = b""
        self._load: Any = None
        self._load_key: tuple | None = None
        self._both_until_ms = -1
        self._calm_windows = 0
        self._node_v = 2.5
        self._node_rest = np.empty(0, np.int32)
        self._ohm_rest = np.empty(0, np.int32)
        self._rest_start = TICKS_AT_START
        self._slow_due_ms = 0
        self._warm_due_ms = WARM_EVERY_MS
        self._load_kinds = _load_type()
        for line, level in getattr(world, "levels", {}).items():
            if line <= self.hands.line_count:
                self.player.edge(TICKS_AT_START, line, int(level))
        self.player.lines_known = 1

    # -- the link's side -------------------------------------------------------------------------

    @property
    def tick(self) -> int:
        """The board's own time. [ms, wraps at 2**30]"""
        return ticks.plus(TICKS_AT_START, self.elapsed_ms & (ticks.WRAP - 1))

    def receive(self, data: bytes) -> bytes:
        """Bytes from the host, now; the bytes that answer them."""
        answer = self._answers + (self.engine.receive(data, self.tick) if data else b"")
        self._answers = b""
        return answer

    def close(self) -> None:
        """End the engine's own process, if it has one."""
        if isinstance(self.engine, RemoteEngine):
            self.engine.close()

    # -- time ------------------------------------------------------------------------------------

    def advance(self, milliseconds: int) -> None:
        """Let the world and the board go on."""
        end_ms = self.elapsed_ms + milliseconds
        player = self.player
        while self.elapsed_ms < end_ms:
            player.advance(self.tick)
            if player.measuring:
                self._measure()
            due_ms = player.due_in(self.tick)
            if self.hands.relay_moved:
                self.hands.relay_moved = False
                self._both_until_ms = self.elapsed_ms + BOTH_MS
            if self.elapsed_ms < self._both_until_ms:
                due_ms = min(due_ms, self._both_until_ms - self.elapsed_ms)
            # Something may be due again at once (a trip makes the relay's next phase); 1 ms on.
            span_ms = max(1, min(due_ms, SLICE_MS, end_ms - self.elapsed_ms))
            self._stretch(span_ms)
        answer = self.engine.poll(self.tick)
        if answer:
            self._answers += answer

    def _stretch(self, span_ms: int) -> None:
        start_ms = self.elapsed_ms
        load = self._present_load()
        scene = self.world.step(start_ms, start_ms + span_ms, load)
        tick = self.tick
        self._slow(scene, start_ms, span_ms)
        self._lines(scene, tick, start_ms, span_ms)
        node = self.truth.node_counts(scene.node_v)
        number = self.hands.range_number
        if number == records.RANGE_OFF:
            ohm = np.zeros(span_ms, np.int32)
        elif self.hands.energised:
            ohm = self.truth.sensor_counts(number, scene.sensor_ohm)
        else:
            own = load.ohm if load.kind == "standin" else self._standin_ohm()
            ohm = self.truth.sensor_counts(number, np.full(span_ms, own))
        self._node_v = float(scene.node_v[-1])
        self.elapsed_ms = start_ms + span_ms
        self._buckets(node, ohm, tick)
        for observer in self.observers:
            observer(self, start_ms, self.elapsed_ms, load, scene)

    # -- what the module sees --------------------------------------------------------------------

    def _present_load(self) -> Any:
        hands = self.hands
        source = self._source()
        both = self.elapsed_ms < self._both_until_ms and hands.contact_kind == steps.THROUGH
        key = (hands.energised, hands.contact_kind, source, both)
        if self._load is not None and not hands.moved and key == self._load_key:
            return self._load
        hands.moved = False
        self._load_key = key
        make = self._load_kinds
        if both:
            self._load = make("both", self._standin_ohm())
        elif not hands.energised:
            self._load = make("sensor", OPEN_OHM)
        elif hands.contact_kind == steps.OPEN:
            self._load = make("open", OPEN_OHM)
        elif hands.contact_kind == steps.SHORT:
            self._load = make("short", SHORT_OHM)
        else:
            self._load = make("standin", self._standin_ohm())
        return self._load

    def _source(self) -> tuple[float, float] | None:
        """Open voltage and pull-up of the world's module now, if it says."""
        module = getattr(self.world, "module", None)
        source = getattr(module, "source", None)
        return source() if source else None

    def _standin_ohm(self) -> float:
        hands = self.hands
        source = self._source()
        one = getattr(self.truth, "one", None)
        if source and one:
            return float(one(hands.codes, hands.out, hands.hot_branches, *source)[1])
        codes, out = np.array(hands.codes), np.array(hands.out)
        return float(self.truth.ohm(codes, out, hands.hot_branches, self._node_v))

    # -- what the board hears --------------------------------------------------------------------

    def _lines(self, scene: Any, tick: int, start_ms: int, span_ms: int) -> None:
        player = self.player
        for t_ms in scene.marks:
            player.mark(ticks.plus(tick, t_ms - start_ms))
        edges = [edge for edge in scene.edges if edge[1] <= self.hands.line_count]
        for t_ms, line, level in edges:
            at = ticks.plus(tick, t_ms - start_ms)
            self._duties_until(at)
            player.edge(at, line, int(level))
            self._calm_windows = 0
        self._duties_until(ticks.plus(tick, span_ms))

    def _duties_until(self, at: int) -> None:
        """Close the 50 ms windows that end before ``at``.

        Where a line is modulated each window is looked at that has an edge in it, and the one
        after; those that follow without an edge say nothing new and are closed together.
        """
        player = self.player
        if not any(player.kinds):
            if ticks.after(at, player.edge_due) <= 0:
                player.duties(at)
            return
        windows = ticks.after(player.duty_due, at) // DUTY_MS + 1
        while windows > 0:
            if self._calm_windows < 2:
                together = 1
                self._calm_windows += 1
            else:
                together = windows
            player.duties(ticks.plus(player.duty_due, (together - 1) * DUTY_MS))
            windows -= together

    def _slow(self, scene: Any, start_ms: int, span_ms: int) -> None:
        player, tick = self.player, self.tick
        for name, channel in (("throttle", 0), ("offsets", 1)):
            for t_ms, volts in getattr(scene, name, ()):
                player.aux(channel, round(volts * 1e4), ticks.plus(tick, t_ms - start_ms))
        if start_ms < self._slow_due_ms:
            return
        self._slow_due_ms = start_ms - start_ms % SLOW_EVERY_MS + SLOW_EVERY_MS
        player.now = tick
        player.aux(0, round(scene.throttle_v * 1e4), tick)
        player.aux(1, round(scene.return_offset_v * 1e4), tick)
        player.aux(2, round(scene.vbus_v * 1e4), tick)
        player.aux(3, 53000, tick)
        player.aux(4, round(getattr(self.truth, "board_c", 25.0) * 1000), tick)
        if start_ms >= self._warm_due_ms:
            self._warm_due_ms += WARM_EVERY_MS
            self.truth.run(WARM_EVERY_MS / 1000.0)
            self.hands.moved = True

    def _buckets(self, node: np.ndarray, ohm: np.ndarray, tick: int) -> None:
        """Counts at 1 kHz from ``tick`` on, as buckets into the player; what is left waits."""
        player = self.player
        if len(self._node_rest):
            node = np.concatenate((self._node_rest, node))
            ohm = np.concatenate((self._ohm_rest, ohm))
            tick = self._rest_start
        if ticks.after(tick, player.bucket_start) > 0:
            # The record was begun anew within a bucket.
            skip = min(len(node), ticks.after(tick, player.bucket_start))
            node, ohm, tick = node[skip:], ohm[skip:], ticks.plus(tick, skip)
        whole = len(node) // BUCKET_MS
        used = whole * BUCKET_MS
        self._node_rest, self._ohm_rest = node[used:], ohm[used:]
        self._rest_start = ticks.plus(tick, used)
        if whole and player.moved and whole > 1:
            self._give(node[:BUCKET_MS], ohm[:BUCKET_MS], tick, 1)
            node, ohm, tick = node[BUCKET_MS:], ohm[BUCKET_MS:], ticks.plus(tick, BUCKET_MS)
            whole -= 1
        if whole:
            self._give(node[: whole * BUCKET_MS], ohm[: whole * BUCKET_MS], tick, whole)

    def _give(self, node: np.ndarray, ohm: np.ndarray, tick: int, whole: int) -> None:
        player = self.player
        low, high = int(node.min()), int(node.max())
        read = self.hands.range_number != records.RANGE_OFF
        olow, ohigh = (int(ohm.min()), int(ohm.max())) if read else (0, 0)
        player.bucket_start = tick
        if whole == 1 or (high - low <= player.quiet_node and ohigh - olow <= player.quiet_ohm):
            player.now = ticks.plus(tick, whole * BUCKET_MS)
            osum = int(ohm.sum()) if read else 0
            player.bucket(whole, low, int(node.sum()), high, olow, osum, ohigh, whole * BUCKET_MS)
            player.bucket_start = player.now
            return
        columns = []
        for counts in (node, ohm):
            table = counts.reshape(whole, BUCKET_MS)
            columns += [table.min(1).tolist(), table.sum(1).tolist(), table.max(1).tolist()]
        for nmin, nsum, nmax, omin, osum, omax in zip(*columns, strict=True):
            player.now = ticks.plus(player.bucket_start, BUCKET_MS)
            player.bucket(1, nmin, nsum, nmax, omin, osum, omax, BUCKET_MS)
            player.bucket_start = player.now

    def _measure(self) -> None:
        """The self-calibration's averaged reading, all at once."""
        player, hands = self.player, self.hands
        count = player.measure_count
        codes, out = np.array(hands.codes), np.array(hands.out)
        on, off = self.truth.ohm_counts(
            player.measure_range, codes, out, hands.hot_branches, samples=count
        )
        self._stretch(2 * (count + 5))
        player.measured(round(float(on) * count), max(0, round(float(off) * count)))


def _load_type() -> Any:
    """``virtual.world.Load``; imported here because only jobs, tests and this wiring know it."""
    from locum.virtual.world import Load

    return Load
