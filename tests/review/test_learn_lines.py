"""State patterns learnt from a record in which somebody named the states."""

from __future__ import annotations

import numpy as np
import pytest

from locum.review.chunk import EDGE, Chunk
from locum.review.context import LineSpec
from locum.review.learn import learn

LINES = (LineSpec(1, "clutch", 1, "switched", "output"), LineSpec(2, "gear", 0, "switched", "output"),
         LineSpec(3, "pump", 1, "switched", "output"))  # fmt: skip
FIRST, TOP, LOCKED = (0, 1, 1), (0, 0, 1), (1, 0, 1)
"""Voltage levels; the gear line is on when low, the pump never changes."""


def drive(*pieces) -> Chunk:
    """(seconds, levels) one after the other."""
    edges, t_ms, before = [], 0, (None, None, None)
    for seconds, levels in pieces:
        for line, (old, new) in enumerate(zip(before, levels, strict=True), 1):
            if old != new:
                edges.append((t_ms, line, new))
        t_ms, before = t_ms + 1000 * seconds, levels
    return Chunk(0, t_ms, edges=np.array(edges, EDGE))


ROAD = drive((30, FIRST), (30, TOP), (30, LOCKED), (30, TOP), (30, FIRST))


def test_patterns_are_what_stood_while_they_were_named():
    named = [(10_000, "first"), (45_000, "top"), (75_000, "locked"), (100_000, "top")]
    found = learn(LINES, ROAD, named, held=("locked",))
    patterns = {p.name: (dict(p.levels), p.held) for p in found.patterns}
    assert patterns["first"] == ({1: False, 2: False}, False)
    assert patterns["top"] == ({1: False, 2: True}, False)
    assert patterns["locked"] == ({1: True, 2: True}, True)
    assert not found.remarks


@pytest.mark.parametrize("late_ms", [150, 400, 1000, 2500, 29_600])
def test_a_name_may_come_at_once_late_or_just_before_the_next(late_ms):
    """A quick saying counted for the state before: half of the states got no pattern."""
    named = [(t + late_ms, name) for t, name in ((0, "first"), (30_000, "top"), (60_000, "locked"))]
    found = learn(LINES, ROAD, named, held=("locked",))
    assert {p.name: dict(p.levels) for p in found.patterns} == {
        "first": {1: False, 2: False}, "top": {1: False, 2: True}, "locked": {1: True, 2: True},
    }  # fmt: skip


def test_a_name_said_on_a_boundary_is_remarked_upon():
    said = [(10_000, "first"), (30_100, "top"), (75_000, "locked")]
    assert "unsteady" in {r.code for r in learn(LINES, ROAD, said).remarks}
    clear = [(10_000, "first"), (31_000, "top"), (75_000, "locked")]
    assert not learn(LINES, ROAD, clear).remarks


def test_what_nobody_named_is_told_with_its_time():
    found = learn(LINES, ROAD, [(10_000, "first"), (45_000, "top")])
    assert sum(found.seconds.values()) == 30.0


def test_two_names_for_one_pattern_and_a_wavering_name_are_remarked():
    same = learn(LINES, ROAD, [(10_000, "first"), (140_000, "reverse")])
    assert [r.code for r in same.remarks] == ["same_pattern"]
    wavering = learn(LINES, ROAD, [(10_000, "first"), (45_000, "first")])
    assert "unsteady" in {r.code for r in wavering.remarks}


def test_a_flickering_line_is_told_as_such():
    edges = [(t, 1, (t // 20) % 2) for t in range(0, 20_000, 20)]
    chunk = Chunk(0, 20_000, edges=np.array(edges, EDGE))
    found = learn(LINES[:1], chunk, [(5000, "first")])
    assert "flickers" in {r.code for r in found.remarks}
