"""What happens does not depend on how time is cut, and the hidden truth agrees with the lines."""

from random import Random

import numpy as np
import pytest

from locum.virtual.scenarios import make_demo_world
from locum.virtual.world import LINE_CLUTCH, LINE_FAN, LINE_IGNITION, Load

LOADS = [
    (0, Load()),
    (600_000, Load("both", 300.0)),
    (600_003, Load("standin", 300.0)),
    (800_000, Load("open")),
    (800_400, Load("standin", 290.0)),
    (900_000, Load("short")),
    (900_300, Load("standin", 290.0)),
    (1_100_000, Load()),
]
END_MS = 1_500_000


def drive_in_pieces(seed: int, innocent: bool, cut: Random | None):
    """The same drive and loads, in pieces of a second or of random length."""
    world = make_demo_world(seed, innocent)
    world.tell("engine_start", cold_c=75.0)
    world.tell("tap", where="sensor")
    world.tell("drive", wet=True)
    arrays, events, t, n = [], [], 0, 0
    told = False
    while t < END_MS:
        while n + 1 < len(LOADS) and LOADS[n + 1][0] <= t:
            n += 1
        if t >= 1_000_000 and not told:
            world.tell("foot_still", on=True)
            told = True
        stops = [END_MS, t + (cut.randint(1, 3000) if cut else 1000)]
        stops += [at for at in (1_000_000, *(at for at, _ in LOADS)) if at > t]
        scene = world.step(t, min(stops), LOADS[n][1])
        t = min(stops)
        arrays.append((scene.node_v, scene.sensor_ohm))
        events += [("edge", *e) for e in scene.edges] + [("mark", m) for m in scene.marks]
        events += [("throttle", *x) for x in scene.throttle]
    node = np.concatenate([a for a, _ in arrays])
    ohm = np.concatenate([b for _, b in arrays])
    return node, ohm, sorted(events), world.truth


@pytest.mark.parametrize(("seed", "innocent"), [(1, False), (2, False), (3, True)])
def test_results_do_not_depend_on_how_time_is_cut(seed, innocent):
    even = drive_in_pieces(seed, innocent, None)
    for cuts in (11, 12):
        ragged = drive_in_pieces(seed, innocent, Random(cuts))
        assert np.array_equal(even[0], ragged[0])
        assert np.array_equal(even[1], ragged[1])
        assert even[2] == ragged[2]
        assert even[3].kick_outs == ragged[3].kick_outs
        assert even[3].glitches == ragged[3].glitches
    assert len(even[2]) > 20


def test_another_seed_is_another_drive():
    assert drive_in_pieces(1, False, None)[2] != drive_in_pieces(2, False, None)[2]


class TruthMonitor:
    """Follows lines and truth side by side and notes whatever does not fit."""

    def __init__(self, world) -> None:
        self.world = world
        self.levels = dict(world.levels)
        self.faults: list[str] = []

    def watch(self, scene, t0_ms: int, t1_ms: int) -> None:
        open_v = self.world.module.facts.open_v
        if scene.node_v.min() < 0 or scene.node_v.max() > open_v:
            self.faults.append(f"node outside 0..{open_v} V before {t1_ms} ms")
        if scene.sensor_ohm.min() <= 0:
            self.faults.append(f"sensor below 0 ohm before {t1_ms} ms")
        last = t0_ms
        for t, line, level in scene.edges:
            if not last <= t < t1_ms:
                self.faults.append(f"edge at {t} outside its piece or out of order")
            if self.levels[line] == level:
                self.faults.append(f"line {line} changed to what it was at {t} ms")
            self.levels[line] = level
            last = t
        if self.levels != self.world.levels:
            self.faults.append(f"levels differ from the edges' sum at {t1_ms} ms")


@pytest.mark.parametrize(("seed", "innocent"), [(4, False), (5, False), (6, True)])
def test_truth_agrees_with_what_the_lines_show(seed, innocent, run):
    world = make_demo_world(seed, innocent)
    world.tell("engine_start", cold_c=80.0)
    world.tell("tap", where="module")
    world.tell("drive", wet=True)
    monitor, node, edges = TruthMonitor(world), [], []
    for t in range(0, 5_400_000, 500):
        scene = world.step(t, t + 500, Load())
        monitor.watch(scene, t, t + 500)
        node.append(scene.node_v)
        edges += scene.edges
    assert monitor.faults == []
    assert len(world.truth.kick_outs) > 10
    falls = {t for t, line, level in edges if line == LINE_CLUTCH and level == 0}
    assert {t for t, _ in world.truth.kick_outs} <= falls
    node = np.concatenate(node)
    for t, length_s, _, _ in world.truth.glitches:
        if t + 2 < len(node):
            assert node[t + 1] > 4.9, f"break of {length_s} s at {t} ms is on the node"
    lively = node > 4.9
    begins = np.flatnonzero(lively[1:] & ~lively[:-1]) + 1
    known = np.array([t for t, *_ in world.truth.glitches])
    assert all(np.min(np.abs(known - t)) <= 1 for t in begins), "no break without its cause"
    assert world.levels[LINE_IGNITION] == 1
    assert LINE_FAN in {line for _, line, _ in edges} or innocent


def test_module_pulses_its_clutch_driver_for_milliseconds(run):
    world = make_demo_world(1, innocent=True)
    world.tell("engine_start", cold_c=85.0)
    world.tell("drive")
    clutch = [(t, level) for t, line, level in run(world, 3000).edges if line == LINE_CLUTCH]
    short = [b[0] - a[0] for a, b in zip(clutch, clutch[1:], strict=False) if a[1] == 0]
    assert sum(length == 3 for length in short) >= 5
    assert all(length == 3 or length > 1000 for length in short)
