"""Time that counts, by rules worked out by hand; what a glitch does must not take it away."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.review import ExposureRule, LineSpec, finish, joined, review, start, step
from locum.review.chunk import (
    AUX_SPEED,
    AUX_THROTTLE,
    MOVE_RELAY_OFF,
    MOVE_RELAY_ON,
    MOVE_STEP,
    SOURCE_MOVING,
    SOURCE_REAL,
    SOURCE_STAND_IN,
)

LOCKED = [(0, 1, 1), (0, 2, 0), (0, 3, 1)]


def ruled(made, rule, **more):
    return replace(made.van, rule=ExposureRule(**rule), **more)


def listened(made, celsius, glitches=(), seed=1):
    """Samples of the real sensor at temperatures by the millisecond, opened at (start, length)."""
    ohm = made.ohm(celsius)
    for begin, length in glitches:
        ohm[begin : begin + length] = 1e8
    return made.buckets(made.node(ohm), None, SOURCE_REAL, 0, 0.001, np.random.default_rng(seed))


def test_minutes_count_from_the_ignition_and_start_again_with_it(made):
    context = ruled(made, {"after_min": 1.0})
    edges = made.edges(*LOCKED[:2], (0, 3, 0), (20_000, 3, 1), (120_000, 3, 0), (150_000, 3, 1))
    found = review(context, [made.chunk(240_000, edges=edges)])
    assert found.exposed == [(80_000, 120_000), (210_000, 240_000)]
    assert found.exposure.recorded_s == 240.0
    assert found.exposure.exposed_s == 70.0


def test_warmer_than_a_temperature_is_less_than_its_ohms(made):
    celsius = 20.0 + np.arange(120_000) / 2000.0  # 60 degC after 80 s
    rows = listened(made, celsius)
    warm = review(
        ruled(made, {"below_ohm": float(made.ohm(60.0))}), [made.chunk(120_000, samples=rows)]
    )
    cold = review(
        ruled(made, {"above_ohm": float(made.ohm(60.0))}), [made.chunk(120_000, samples=rows)]
    )
    assert warm.exposed == [(pytest.approx(80_000, abs=2000), 120_000)]
    assert cold.exposed == [(0, pytest.approx(80_000, abs=2000))]
    assert warm.exposure.exposed_s + cold.exposure.exposed_s == pytest.approx(120.0)


@pytest.mark.parametrize("length_ms", [300, 900, 1800, 6000])
def test_a_glitch_does_not_take_the_time_in_which_it_kicks_out(made, length_ms):
    """An open reads as very cold: by the reading the engine would be cold just when it fails."""
    rule = {"below_ohm": float(made.ohm(60.0)), "in_state": "locked"}
    begin = 60_100
    rows = listened(made, np.full(120_000, 88.0), [(begin, length_ms)])
    edges = made.edges(*LOCKED, (begin + 800, 1, 0), (begin + 5000, 1, 1))
    found = review(ruled(made, rule), [made.chunk(120_000, samples=rows, edges=edges)])
    kick = found.kick_outs[0].t_ms
    assert [g.t_ms for g in found.glitches] == [pytest.approx(begin, abs=12)]
    assert any(a <= begin < b for a, b in found.exposed)
    assert any(a <= kick < b for a, b in found.exposed)


def test_a_sensor_that_stays_open_tells_no_temperature(made):
    """After 20 s it is no glitch: whether the rule is met nobody knows, so it does not count."""
    rows = listened(made, np.full(120_000, 88.0), [(60_000, 60_000)])
    found = review(ruled(made, {"below_ohm": 400.0}), [made.chunk(120_000, samples=rows)])
    assert found.exposed == [(0, pytest.approx(80_000, abs=3000))]


def test_speed_counts_while_its_log_goes_on(made):
    """A log that ended says nothing of the hour after it."""
    speeds = [(t, AUX_SPEED, 8000 if t < 60_000 else 2000) for t in range(0, 90_000, 1000)]
    speeds += [(t, AUX_SPEED, 8000) for t in range(90_000, 120_000, 1000)]
    context = ruled(made, {"above_kmh": 50.0})
    found = review(context, [made.chunk(600_000, aux=speeds, edges=made.edges(*LOCKED))])
    assert found.exposed[:1] == [(0, 60_000)]
    assert found.exposed[1][0] == 90_000
    assert found.exposed[1][1] <= 135_000


def test_lost_record_is_unwatched_and_counts_in_nothing(made):
    gaps = [(30_500, 33_200, 200)]
    found = review(made.van, [made.chunk(60_000, gaps=gaps, edges=made.edges(*LOCKED))])
    assert found.exposed == [(0, 30_000), (34_000, 60_000)]
    assert found.exposure.unwatched_s == 4.0


def test_time_goes_to_what_was_connected(made):
    moves = [(20_000, MOVE_RELAY_ON, 0), (50_000, MOVE_RELAY_OFF, 0)]
    exposure = review(
        made.van, [made.chunk(60_000, moves=moves, edges=made.edges(*LOCKED))]
    ).exposure
    assert (exposure.exposed_real_s, exposure.exposed_stand_in_s) == (30.0, 30.0)


def everything(made, seed):
    """Six minutes of all there is: both ways of being fed, glitches under either, losses, speed."""
    rng = np.random.default_rng(seed)
    n = 360_000
    celsius = 55 + 15 * np.sin(np.arange(n) / 4e4)
    ohm = made.ohm(celsius)
    starts = np.sort(rng.integers(5000, n - 5000, 12))
    for t in starts.tolist():
        ohm[t : t + int(rng.integers(20, 3000))] = 1e8
    swaps = np.sort(rng.integers(20, n // 1000 - 20, 4)) * 1000
    source = np.zeros(n // 10, "u1")
    moves, node = [], made.node(ohm)
    for begin, end in zip(swaps[::2].tolist(), swaps[1::2].tolist(), strict=True):
        value = round(float(made.node(made.ohm(70.0))) * 1e4)
        moves += [(begin, MOVE_STEP, value), (begin, MOVE_RELAY_ON, 0), (end, MOVE_RELAY_OFF, 0)]
        node[begin:end] = value / 1e4
        source[begin // 10 : end // 10] = SOURCE_STAND_IN
        for at in (begin // 10, end // 10):
            source[at - 1 : at + 2] = SOURCE_MOVING
    rows = made.buckets(node, ohm, 0, 0, 0.001, rng, quiet=False)
    rows["source"] = source
    for name in ("ohm_min", "ohm_mean", "ohm_max"):
        rows[name][source != SOURCE_STAND_IN] = -1
    edges = list(LOCKED)
    for t in rng.integers(10_000, n - 10_000, 10).tolist():
        edges += [(t, 1, 0), (t + int(rng.integers(100, 4000)), 1, 1)]
    aux = [(t, AUX_SPEED, int(rng.integers(3000, 9000))) for t in range(0, n, 1000)]
    aux += [(t + 7, AUX_THROTTLE, int(rng.integers(10_000, 13_000))) for t in range(0, n, 700)]
    begin = int(rng.integers(50_000, 300_000))
    return made.chunk(
        n, samples=rows, edges=made.edges(*edges), moves=moves, aux=sorted(aux),
        gaps=[(begin, begin + 2500, 100)],
    )  # fmt: skip


@settings(max_examples=15, deadline=None)
@given(
    seed=st.integers(0, 200),
    cuts=st.lists(st.integers(1, 359_999), max_size=40),
)
def test_the_cut_changes_neither_time_nor_facts_of_a_drive_with_everything(seed, cuts):
    made = MADE
    rule = {"after_min": 0.5, "below_ohm": float(made.ohm(50.0)), "above_kmh": 40.0, "in_state": "locked"}  # fmt: skip
    lines = (*made.van.lines, LineSpec(4, "selector", role="selector"))
    context = ruled(made, rule, throttle=True, lines=lines)
    chunk = everything(made, seed)
    whole = review(context, [chunk])
    state = start(context)
    parts = [step(state, part)[1] for part in made.cut(chunk, cuts)]
    pieces = joined([*parts, finish(state)])
    assert pieces.as_dict() == whole.as_dict()
    assert whole.exposed


MADE = None


@pytest.fixture(autouse=True)
def _made(made):
    global MADE
    MADE = made
