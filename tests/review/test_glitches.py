"""Glitches of a synthetic record are found with their side and length; nothing else is."""

from __future__ import annotations

import numpy as np
import pytest

from locum.review import review
from locum.review.chunk import MOVE_OPEN, MOVE_THROUGH, SAMPLE, SOURCE_REAL, SOURCE_STAND_IN


def record(made, base_c, depth_k, source, count, seed):
    """Half an hour with known glitches of 20-500 ms; returns samples and the truth."""
    rng = np.random.default_rng(seed)
    n = 1_800_000
    t = np.arange(n)
    celsius = base_c + 3 * np.sin(t / 2e5)
    ohm = made.ohm(celsius)
    starts = np.sort(rng.choice(np.arange(5000, n - 5000, 3000), count, replace=False))
    starts = starts + rng.integers(0, 1000, count)
    lengths = np.exp(rng.uniform(np.log(20), np.log(500), count)).astype(int)
    sides = rng.integers(0, 2, count) * 2 - 1
    for s, length, side in zip(starts, lengths, sides, strict=True):
        ohm[s : s + length] = made.ohm(celsius[s : s + length] - side * depth_k)
    if source == SOURCE_REAL:
        rows = made.buckets(made.node(ohm), None, source, 0, 0.0012, rng)
    else:
        steady = made.node(made.ohm(np.full(n, 90.0)))
        rows = made.buckets(steady, ohm, source, 0, 0.0012, rng)
    return made.chunk(n, samples=rows), list(zip(starts, lengths, sides, strict=True))


@pytest.mark.parametrize(
    ("base_c", "depth_k", "source"),
    [(90, 5, SOURCE_REAL), (-15, 5, SOURCE_REAL), (60, 30, SOURCE_REAL), (90, 5, SOURCE_STAND_IN),
     (20, 8, SOURCE_STAND_IN)],
)  # fmt: skip
def test_five_kelvin_glitches_are_found_with_side_and_length(made, base_c, depth_k, source):
    chunk, truth = record(made, base_c, depth_k, source, 200, seed=100 + base_c + depth_k)
    found = review(made.van, [chunk]).glitches
    times = np.array([g.t_ms for g in found])
    hits = 0
    for start, length, side in truth:
        near = np.flatnonzero(np.abs(times - start) <= 12)
        if len(near) == 0:
            continue
        glitch = found[int(near[0])]
        hits += 1
        assert glitch.towards == ("cold" if side > 0 else "hot")
        assert glitch.length_ms == pytest.approx(length, abs=12)
        assert glitch.place == ("circuit" if source == SOURCE_REAL else "sensor")
    assert hits >= 0.99 * len(truth)
    assert len(found) == hits


def test_warm_up_noise_and_hum_are_no_glitches(made):
    rng = np.random.default_rng(8)
    n = 1_200_000
    t = np.arange(n)
    celsius = 20 + 70 * (1 - np.exp(-t / 4e5))
    hum = np.where((t > 6e5) & (t < 9e5), 0.05 * np.sin(2 * np.pi * t / 20), 0.0)
    rows = made.buckets(made.node(made.ohm(celsius)) + hum, None, 0, 0, 0.002, rng)
    assert review(made.van, [made.chunk(n, samples=rows)]).glitches == []


@pytest.mark.parametrize("hertz", [16.7, 50, 60, 100])
@pytest.mark.parametrize(
    ("amplitude_v", "begins_ms"), [(0.05, 0), (0.2, 0), (0.2, 20_000), (0.4, 20_000)]
)
def test_hum_of_any_strength_is_no_glitch_from_its_first_second_on(
    made, hertz, amplitude_v, begins_ms
):
    """The median of its rows is one of the two sides: held against that, hum is a lasting departure."""
    t = np.arange(60_000)
    hum = np.where(t >= begins_ms, amplitude_v * np.sin(2 * np.pi * hertz * t / 1000 + 0.7), 0.0)
    node = np.clip(made.node(made.ohm(np.full(60_000, 88.0))) + hum, 0, 5)
    rows = made.buckets(node, None, SOURCE_REAL, 0, 0.0012, np.random.default_rng(5))
    assert review(made.van, [made.chunk(60_000, samples=rows)]).glitches == []


def test_an_open_within_hum_is_found(made):
    t = np.arange(60_000)
    node = made.node(made.ohm(np.full(60_000, 88.0))) + 0.05 * np.sin(2 * np.pi * t / 20)
    node[30_000:30_200] = 5.0
    rows = made.buckets(np.clip(node, 0, 5), None, SOURCE_REAL, 0, 0.0012, np.random.default_rng(5))
    found = review(made.van, [made.chunk(60_000, samples=rows)]).glitches
    assert [(g.t_ms, g.kind) for g in found] == [(pytest.approx(30_000, abs=12), "range")]


def test_spikes_are_interference_however_often_they_come(made):
    """1 ms of an ignition coil every 40 ms is not one glitch of a minute."""
    node = made.node(made.ohm(np.full(60_000, 88.0)))
    node[::40] += 1.5
    rows = made.buckets(node, None, SOURCE_REAL, 0, 0.0012, np.random.default_rng(5))
    found = review(made.van, [made.chunk(60_000, samples=rows)])
    assert found.glitches == []
    assert found.noise


def test_an_open_that_turns_into_a_short_is_no_hum(made):
    """A broken wire that falls against metal: both sides, each for longer than hum ever does."""
    node = made.node(made.ohm(np.full(60_000, 88.0)))
    node[30_000:30_150], node[30_150:30_300] = 5.0, 0.0
    rows = made.buckets(node, None, SOURCE_REAL, 0, 0.0012, np.random.default_rng(5))
    found = review(made.van, [made.chunk(60_000, samples=rows)])
    assert [g.t_ms for g in found.glitches] == [pytest.approx(30_000, abs=12)]
    assert found.glitches[0].length_ms == pytest.approx(300, abs=20)


def test_two_stage_jump_is_no_glitch_but_a_dropout_beside_it_is(made):
    from dataclasses import replace

    context = replace(made.van, pull_up_ohm=10_000.0, second_pull_up_ohm=909.0)
    n = 600_000
    ohm = made.ohm(40 + 30 * np.arange(n) / n)
    node = 5.0 * ohm / (ohm + 10_000.0)
    second = ohm < 1000.0
    node = np.where(second, 5.0 * ohm / (ohm + 909.0), node)
    node[100_000:100_200] = 5.0
    rows = made.buckets(node, None, 0, 0, 0.0012, np.random.default_rng(3))
    found = review(context, [made.chunk(n, samples=rows)]).glitches
    assert [g.t_ms for g in found] == [pytest.approx(100_000, abs=12)]
    assert found[0].kind == "range"


def test_own_injections_are_kept_apart(made):
    n = 60_000
    node = made.node(made.ohm(np.full(n, 90.0)))
    node[20_000:20_300] = 5.0
    rows = made.buckets(node, None, SOURCE_STAND_IN, 0, 0.0012, np.random.default_rng(1))
    moves = [(20_000, MOVE_OPEN, 0), (20_300, MOVE_THROUGH, 0)]
    found = review(made.van, [made.chunk(n, samples=rows, moves=moves)])
    assert found.glitches == []
    assert [(i.t_ms, i.length_ms, i.kind) for i in found.injections] == [(20_000, 300, "open")]


def test_losing_the_ignition_is_no_glitch(made):
    n = 120_000
    node = made.node(made.ohm(np.full(n, 90.0)))
    node[60_000:90_000] = 0.0
    rows = made.buckets(node, None, 0, 0, 0.0012, np.random.default_rng(1))
    edges = made.edges((0, 3, 1), (60_010, 3, 0), (90_000, 3, 1))
    found = review(made.van, [made.chunk(n, samples=rows, edges=edges)])
    assert found.glitches == []
    assert found.supply == [(0, True), (60_010, False), (90_000, True)]


def test_level_shift_that_stays_is_a_step(made):
    n = 120_000
    celsius = np.where(np.arange(n) > 50_000, 80.0, 90.0)
    rows = made.buckets(made.node(made.ohm(celsius)), None, 0, 0, 0.001, np.random.default_rng(2))
    found = review(made.van, [made.chunk(n, samples=rows)]).glitches
    assert [g.kind for g in found] == ["step"]


@pytest.mark.parametrize("length_ms", [25_300, 34_700, 60_000])
def test_the_way_back_from_a_long_open_is_no_glitch_towards_hot(made, length_ms):
    node = made.node(made.ohm(np.full(150_000, 88.0)))
    node[50_000 : 50_000 + length_ms] = 5.0
    node[130_000:130_200] = 5.0
    rows = made.buckets(node, None, SOURCE_REAL, 0, 0.001, np.random.default_rng(2))
    found = review(made.van, [made.chunk(150_000, samples=rows)]).glitches
    assert [(g.kind, g.towards) for g in found] == [("step", "cold"), ("range", "cold")]
    assert [g.t_ms for g in found] == [pytest.approx(t, abs=12) for t in (50_000, 130_000)]


def test_temperature_track_is_the_sensor_under_the_mask_too(made):
    n = 30_000
    ohm = made.ohm(np.full(n, 70.0))
    node = made.node(made.ohm(np.full(n, 90.0)))
    rows = made.buckets(node, ohm, SOURCE_STAND_IN, 0, 0.001, np.random.default_rng(2))
    track = review(made.van, [made.chunk(n, samples=rows)]).temperature
    assert track["milliohm"] / 1e3 == pytest.approx(made.ohm(70.0), rel=0.005)
    assert len(track) >= 28
    assert rows.dtype == SAMPLE
