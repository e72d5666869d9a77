"""Short ways to run a world and to read what came out."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from locum.virtual.world import LINE_CLUTCH, Load, World


@dataclass
class Record:
    """Scenes joined."""

    node_v: list = field(default_factory=list)
    sensor_ohm: list = field(default_factory=list)
    edges: list = field(default_factory=list)
    marks: list = field(default_factory=list)
    throttle: list = field(default_factory=list)
    offsets: list = field(default_factory=list)
    true_c: list = field(default_factory=list)

    def add(self, scene) -> None:
        self.node_v.append(scene.node_v)
        self.sensor_ohm.append(scene.sensor_ohm)
        self.edges += scene.edges
        self.marks += scene.marks
        self.throttle += scene.throttle
        self.offsets += scene.offsets
        self.true_c.append(scene.true_temperature_c)

    def node(self) -> np.ndarray:
        return np.concatenate(self.node_v)

    def ohm(self) -> np.ndarray:
        return np.concatenate(self.sensor_ohm)

    def lost(self, least_ms: int = 30) -> list[int]:
        """Times at which the clutch line fell and stayed down."""
        clutch = [(t, level) for t, line, level in self.edges if line == LINE_CLUTCH]
        ends = [*(t for t, _ in clutch[1:]), 1 << 60][: len(clutch)]
        return [
            t
            for (t, level), end in zip(clutch, ends, strict=True)
            if level == 0 and end - t >= least_ms
        ]


def run_world(world: World, seconds: float, load: Load | None = None, piece_ms: int = 1000):
    """Run on from where the world is."""
    record, end_ms = Record(), world.now_ms + round(seconds * 1000)
    load = load or Load()
    while world.now_ms < end_ms:
        t = world.now_ms
        record.add(world.step(t, min(end_ms, t + piece_ms), load))
    return record


@pytest.fixture
def run():
    return run_world
