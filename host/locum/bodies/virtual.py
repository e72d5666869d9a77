"""The virtual board: the real engine plugged into a simulated world instead of pins.

Time goes from event to event, at most 250 ms at once. Between two events the world says what the line
and the sensor did at 1 kHz (``virtual_load.py`` says what was on the line); that is turned into
converter counts and handed over (``virtual_record.py``), at a thousand times a board's pace.

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
from locum.bodies.virtual_load import LineLoad
from locum.bodies.virtual_record import Buckets, Lines, SlowChannels
from locum_board import records, ticks
from locum_board.engine import Engine

SLICE_MS = 250
WARM_EVERY_MS = 60_000
TICKS_AT_START = 5000


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
    boot_id : int
        Number of this start, 1 to 2**30 - 1; 0: one that follows from the seed, for runs that are
        to be the same again. A board that others take up needs another one at each start.
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
        boot_id: int = 0,
    ) -> None:
        sheet = board_sheet or {}
        self.world = world
        self.truth = network_truth
        self.start_utc = start_utc or datetime.now(UTC).replace(microsecond=0)
        self.elapsed_ms = 0
        boot_id = boot_id or 1 + seed * 7919 % 1_000_000
        self.hands = VirtualHands(sheet, f"V{seed:04d}", boot_id)
        self.engine: Any
        if interpreter:
            self.engine = RemoteEngine(self.hands, TICKS_AT_START, slots, interpreter)
        else:
            self.engine = Engine(self.hands, TICKS_AT_START, slots)
        self.player: Any = self.engine.player
        self.observers: list[Any] = []
        """Called as ``observer(body, t0_ms, t1_ms, load, scene)`` after every stretch: monitors."""
        self._answers = b""
        self._line = LineLoad(self.hands, world, network_truth)
        self._buckets = Buckets(self.player, self.hands, TICKS_AT_START)
        self._slow = SlowChannels(self.player, network_truth)
        self._warm_due_ms = WARM_EVERY_MS
        self._lines = Lines(self.player, self.hands.line_count)
        self._lines.begin(getattr(world, "levels", {}), TICKS_AT_START)

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
            due_ms = self._line.due_ms(player.due_in(self.tick), self.elapsed_ms)
            # Something may be due again at once (a trip makes the relay's next phase); 1 ms on.
            span_ms = max(1, min(due_ms, SLICE_MS, end_ms - self.elapsed_ms))
            self._stretch(span_ms)
        answer = self.engine.poll(self.tick)
        if answer:
            self._answers += answer

    def _stretch(self, span_ms: int) -> None:
        start_ms = self.elapsed_ms
        load = self._line.present(start_ms)
        scene = self.world.step(start_ms, start_ms + span_ms, load)
        tick = self.tick
        self._slow.take(scene, tick, start_ms)
        self._warm_up(start_ms)
        self._lines.take(scene, tick, start_ms, span_ms)
        node = self.truth.node_counts(scene.node_v)
        ohm = self._ohm_counts(scene, load, span_ms)
        self._line.node_v = float(scene.node_v[-1])
        self.elapsed_ms = start_ms + span_ms
        self._buckets.take(node, ohm, tick)
        for observer in self.observers:
            observer(self, start_ms, self.elapsed_ms, load, scene)

    def _ohm_counts(self, scene: Any, load: Any, span_ms: int) -> np.ndarray:
        """What the ohmmeter says: of the real sensor while standing in, else of the own network."""
        number = self.hands.range_number
        if number == records.RANGE_OFF:
            return np.zeros(span_ms, np.int32)
        if self.hands.energised:
            return self.truth.sensor_counts(number, scene.sensor_ohm)
        own = load.ohm if load.kind == "standin" else self._line.standin_ohm()
        return self.truth.sensor_counts(number, np.full(span_ms, own))

    def _warm_up(self, start_ms: int) -> None:
        """The board's own warming, a minute at a time."""
        if start_ms >= self._warm_due_ms:
            self._warm_due_ms += WARM_EVERY_MS
            self.truth.run(WARM_EVERY_MS / 1000.0)
            self.hands.moved = True

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
