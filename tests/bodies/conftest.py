"""A world of ten lines, and a board in it."""

from __future__ import annotations

import tomllib
from types import SimpleNamespace

import numpy as np
import pytest

from locum.bodies.virtual import VirtualBody
from locum.link.board import Board
from locum.link.clock import VirtualClock
from locum.link.transports import InProcessTransport
from locum.locations import asset_root
from locum.virtual.analog import NetworkTruth
from locum_board import ladder, steps
from monitor import attach


class TinyWorld:
    """A sensor of ``sensor_ohm`` on a 5 V, 1 kohm module; events are put in by hand."""

    def __init__(self, sensor_ohm=2500.0):
        self.sensor_ohm = sensor_ohm
        self.open_v, self.pull_up_ohm = 5.0, 1000.0
        self.glitches = []  # (t0, t1): the real sensor is open
        self.edges, self.marks = [], []
        self.loads = []
        self.module = self
        self.now_ms = 0

    def source(self):
        return self.open_v, self.pull_up_ohm

    def step(self, t0_ms, t1_ms, load):
        assert t0_ms == self.now_ms
        self.now_ms = t1_ms
        self.loads.append((t0_ms, load.kind, load.ohm))
        ohm = np.full(t1_ms - t0_ms, self.sensor_ohm)
        for start, end in self.glitches:
            ohm[max(0, start - t0_ms) : max(0, end - t0_ms)] = 1e9
        both = 1 / (1 / ohm + 1 / load.ohm)
        own = {"sensor": ohm, "open": 1e9, "short": 2.5, "both": both}.get(load.kind, load.ohm)
        node = np.full(len(ohm), self.open_v) * own / (own + self.pull_up_ohm)
        return SimpleNamespace(
            node_v=node, sensor_ohm=ohm, edges=[e for e in self.edges if t0_ms <= e[0] < t1_ms],
            marks=[m for m in self.marks if t0_ms <= m < t1_ms], throttle_v=1.2,
            return_offset_v=0.01, vbus_v=5.0, true_temperature_c=20.0,
        )  # fmt: skip


def board_sheet(name="reference"):
    path = asset_root("hardware/boards") / f"{name}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


class Rig:
    """World, body, monitor, board and clock together."""

    def __init__(self, world=None, seed=1):
        self.world = world or TinyWorld()
        self.sheet = board_sheet()
        self.truth = NetworkTruth(self.sheet, seed)
        self.body = VirtualBody(self.world, self.truth, self.sheet, seed=seed)
        self.monitor = attach(self.body)
        self.clock = VirtualClock(self.body)
        self.board = Board(InProcessTransport(self.body), self.clock)
        self.board.identify()
        self.blocks = []
        self.clock.wait(0.1)

    def words(self, ohm):
        """P1 and P3 of the true board for a value; P1 alone below 8 kohm."""
        table = self.truth.table_ohm[0] + self.truth.series_ohm
        code = int(np.argmin(abs(table - ohm)))
        return (code, steps.OUT, steps.OUT, steps.OUT)

    def node(self, words):
        out = [bool(w & steps.OUT) for w in words]
        codes = [w & 0x1FF for w in words]
        return round(self.truth.one(codes, out, 0, *self.world.source())[0] * 2000)

    def ladder(self):
        rungs, before = b"", 0
        for code in range(3, 257):
            words = (code, steps.OUT, steps.OUT, steps.OUT)
            ohm = self.truth.table_ohm[0][code] + self.truth.series_ohm
            weight = ladder.default_weight(before, round(ohm * 1000)) if before else 0
            before = round(ohm * 1000)
            rungs += ladder.pack_rung(before, weight, words, self.node(words), 4 << 5)
        return ladder.ladder_block(rungs)

    def step(self, dt_ms, ohm, **flags):
        words = self.words(ohm)
        return steps.pack_step(
            dt_ms, words, self.node(words), steps.step_flags(**{"tolerance": 4, **flags})
        )

    def ready(self, ohm=2500.0):
        self.board.upload_ladder(self.ladder())
        self.board.set_range(1)
        words = self.words(ohm)
        self.board.set_codes(words, 0, self.node(words), 4)

    def run(self, seconds, poll_s=0.5):
        """Poll and drain, as a job does."""
        status = None
        for _ in range(round(seconds / poll_s)):
            self.clock.wait(poll_s)
            status = self.board.fetch()
            self.blocks += self.board.drain()
        return status


@pytest.fixture
def rig():
    made = Rig()
    yield made
    made.monitor.assert_clean()


@pytest.fixture
def new_rig():
    return Rig


@pytest.fixture
def tiny_world():
    return TinyWorld
