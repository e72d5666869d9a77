"""Lines to states to releases and their causes; the same facts however the record is cut."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.errors import Refused
from locum.review import LineSpec, StatePattern, finish, joined, review, start, step
from locum.review.chunk import (
    AUX_SPEED,
    AUX_THROTTLE,
    MARK_BUTTON,
    MARK_FOOT,
    MARK_KEY,
    MOVE_FOLLOW,
    MOVE_OPEN,
    MOVE_STEP,
    MOVE_THROUGH,
)


def kick(t_ms, back_ms=4000):
    """The clutch lets go and comes back."""
    return [(t_ms, 1, 0), (t_ms + back_ms, 1, 1)]


def reviewed(made, edges, end_ms=120_000, context=None, **more):
    base = [(0, 1, 1), (0, 2, 0), (0, 3, 1)]
    chunk = made.chunk(end_ms, edges=made.edges(*base, *edges), **more)
    return review(context or made.van, [chunk])


def test_a_release_without_an_act_is_a_kick_out(made):
    found = reviewed(made, kick(30_000))
    release = found.releases[0]
    assert (release.t_ms, release.from_state, release.to_state) == (30_000, "locked", "unlocked")
    assert (release.cause, release.regained_ms, release.kick_out) == ("none", 34_000, True)
    assert found.states[:2] == [(0, "locked"), (30_000, "unlocked")]


def test_foot_on_the_brake_explains_and_a_short_pulse_does_not(made):
    foot = reviewed(made, [(29_700, 2, 1), (32_000, 2, 0), *kick(30_000)])
    switch = reviewed(made, [(29_800, 2, 1), (29_940, 2, 0), *kick(30_000)])
    assert foot.releases[0].cause == "driver"
    assert switch.releases[0].cause == "none"
    assert switch.releases[0].brake_pulse_ms == 140
    assert switch.brake == [(29_800, 140)]


def test_self_test_pulses_are_counted_and_change_nothing(made):
    pulses = [edge for t in range(10_000, 60_000, 5000) for edge in ((t, 1, 0), (t + 6, 1, 1))]
    found = reviewed(made, pulses)
    assert found.releases == []
    assert len(found.pulses) == 10
    assert found.pulses[0] == (10_000, 1, 6)


def test_missing_channel_leaves_the_cause_unknown(made):
    context = replace(made.van, needed=("brake", "throttle"))
    assert reviewed(made, kick(30_000), context=context).releases[0].cause == "unknown"


def test_injection_makes_a_release_ours_and_is_answered(made):
    moves = [(29_500, MOVE_OPEN, 0), (29_800, MOVE_THROUGH, 0)]
    found = reviewed(made, kick(30_000), moves=moves)
    assert found.releases[0].cause == "ours"
    assert found.injections[0].answered_ms == 500
    assert found.injections[0].ohm == float("inf")


def test_an_injection_is_told_while_the_drive_goes_on(made):
    """Within seconds, not when the record ends: who gives the next one waits for the answer."""
    moves = [(30_000, MOVE_OPEN, 0), (30_300, MOVE_THROUGH, 0)]
    edges = made.edges((0, 1, 1), (0, 2, 0), *kick(30_500))
    chunk = made.chunk(120_000, edges=edges, moves=moves)
    state, told_ms = start(made.van), None
    for part in made.cut(chunk, range(1000, 120_000, 1000)):
        _, found = step(state, part)
        if found.injections:
            told_ms, injection = part.end_ms, found.injections[0]
            break
    assert told_ms is not None
    assert told_ms <= 36_000
    assert injection.answered_ms == 500


def test_a_given_step_is_told_with_its_ohms(made):
    """A jump to 10 kohm and back: 5 V * 10 / 11 on a pull-up of 1 kohm."""
    near, far = (round(5e4 * ohm / (ohm + 1000)) for ohm in (300, 10_000))
    moves = [(0, MOVE_STEP, near), (30_000, MOVE_STEP, far), (30_400, MOVE_STEP, near)]
    found = reviewed(made, [], moves=moves)
    assert [(i.kind, i.length_ms) for i in found.injections] == [("step", 400)]
    assert found.injections[0].ohm == pytest.approx(10_000, rel=0.01)


def test_a_step_given_after_long_following_starts_from_where_following_was(made):
    """Ten kelvin were followed since the last step: going there again is no jump of ours."""
    node = {r: round(5e4 * r / (r + 1000)) for r in (*range(300, 401, 10), 10_000)}
    walk = [(2000 * n, MOVE_FOLLOW, node[300 + 10 * n]) for n in range(1, 11)]
    moves = [(1000, MOVE_STEP, node[300]), *walk, (30_000, MOVE_STEP, node[400]),
             (30_300, MOVE_STEP, node[10_000]), (30_700, MOVE_STEP, node[400])]  # fmt: skip
    found = reviewed(made, [], moves=moves)
    assert [(i.t_ms, i.length_ms) for i in found.injections] == [(30_300, 400)]


@pytest.mark.parametrize(("late_ms", "cause"), [(-400, "driver"), (150, "driver"), (260, "none")])
def test_a_throttle_told_late_by_the_board_still_explains(made, late_ms, cause):
    """The board looks at the throttle ten times a second; what moves later is an answer."""
    context = replace(made.van, throttle=True)
    rows = [(t, AUX_THROTTLE, 12_000) for t in range(0, 30_000 + late_ms, 1000)]
    rows += [(30_000 + late_ms, AUX_THROTTLE, 25_000)]
    assert reviewed(made, kick(30_000), context=context, aux=rows).releases[0].cause == cause


def test_refractory_hunting_and_short_losses(made):
    edges = [e for t in (30_000, 38_000, 46_000, 54_000) for e in kick(t, 1500)]
    found = reviewed(made, edges)
    assert [r.repeat for r in found.releases] == [False, True, False, True]
    assert len(found.hunting) == 1
    assert reviewed(made, kick(30_000, 300)).releases == []


def test_the_foot_does_not_hide_a_kick_out_soon_after(made):
    """The refractory time follows a kick-out: what the driver did begins none."""
    foot = [(29_900, 2, 1), (31_500, 2, 0), *kick(30_000, 2000)]
    after_foot = reviewed(made, [*foot, *kick(38_000)])
    after_kick = reviewed(made, [*kick(30_000, 2000), *kick(38_000)])
    assert [r.t_ms for r in after_foot.kick_outs] == [38_000]
    assert [r.t_ms for r in after_kick.kick_outs] == [30_000]


@pytest.mark.parametrize("again_ms", [9_900, 10_100])
def test_the_refractory_time_ends_after_ten_seconds(made, again_ms):
    found = reviewed(made, [*kick(30_000, 2000), *kick(30_000 + again_ms)])
    assert len(found.kick_outs) == (1 if again_ms < 10_000 else 2)


@pytest.mark.parametrize(
    ("told_s", "true_s"), [(0, 4.5), (10, 6), (10, 14), (30, 22), (30, 44), (60, 45), (60, 80)]
)
def test_a_press_told_to_be_late_is_put_to_the_kick_out_it_means(made, told_s, true_s):
    """Nobody times "about 30 s ago" to the second: half of it either way still means this one."""
    marks = [(30_000 + int(1000 * true_s), MARK_KEY, 1000 * told_s)]
    found = reviewed(made, kick(30_000), 180_000, marks=marks)
    assert found.releases[0].pressed
    assert abs(found.marks[0][0] - 30_000) <= 5000


def test_a_late_press_prefers_what_nobody_did_and_leaves_far_ones_alone(made):
    foot = [(49_900, 2, 1), (52_500, 2, 0), *kick(50_000)]
    marks = [(80_000, MARK_KEY, 30_000)]  # told: 50 s; the driver's own lies there
    found = reviewed(made, [*kick(38_000), *foot], 180_000, marks=marks)
    assert [r.pressed for r in found.releases] == [True, False]
    far = reviewed(made, kick(30_000), 180_000, marks=[(80_000, MARK_KEY, 30_000)])
    assert not far.releases[0].pressed
    assert far.marks == [(50_000, "key")]


def test_a_brake_whose_end_was_lost_explains_nothing_and_is_unknown(made):
    """The edge fell into a hole of the record minutes ago: nobody knows whether the foot is on."""
    lost = [(20_000, 2, 1), *kick(300_000)]
    gaps = [(20_500, 23_000, 50)]
    assert reviewed(made, lost, 400_000, gaps=gaps).releases[0].cause == "unknown"
    assert reviewed(made, lost, 400_000).releases[0].cause == "driver"
    told_again = [(20_000, 2, 1), (24_000, 2, 0), *kick(300_000)]
    assert reviewed(made, told_again, 400_000, gaps=gaps).releases[0].cause == "none"


def test_a_speed_below_the_modules_own_is_the_roads_doing_only_while_it_is_known(made):
    context = replace(made.van, road_below_kmh=45.0)
    slow = [(t, AUX_SPEED, 4000) for t in range(0, 29_000, 1000)]
    old = [(t, AUX_SPEED, 4000) for t in range(0, 15_000, 1000)]
    fast = [(t, AUX_SPEED, 6000) for t in range(0, 40_000, 1000)]
    causes = [reviewed(made, kick(30_000), context=context, aux=aux).releases[0].cause
              for aux in (slow, old, fast)]  # fmt: skip
    assert causes == ["road", "none", "none"]
    needs = replace(context, needed=("brake", "speed"))
    assert reviewed(made, kick(30_000), context=needs, aux=old).releases[0].cause == "unknown"


def test_unknown_pattern_is_shown_with_its_bits(made):
    lines = (LineSpec(1, "A"), LineSpec(2, "B"))
    patterns = (
        StatePattern("top", ((1, True), (2, False)), held=True),
        StatePattern("third", ((1, True), (2, True))),
    )
    context = replace(made.van, lines=lines, patterns=patterns, needed=())
    edges = made.edges((0, 1, 1), (0, 2, 0), (20_000, 1, 0), (30_000, 1, 1))
    found = review(context, [made.chunk(60_000, edges=edges)])
    assert found.releases[0].to_state == "? 00"


def test_transition_pattern_is_believed_for_two_seconds(made):
    lines = (LineSpec(1, "A"), LineSpec(2, "B"))
    patterns = (
        StatePattern("top", ((1, True), (2, True)), held=True),
        StatePattern("shifting", ((1, False), (2, True)), transition=True),
        StatePattern("third", ((1, False), (2, False))),
    )
    context = replace(made.van, lines=lines, patterns=patterns, needed=())
    on = [(0, 1, 1), (0, 2, 1)]
    back = made.edges(*on, (20_000, 1, 0), (20_900, 1, 1))
    through = made.edges(*on, (20_000, 1, 0), (20_900, 2, 0))
    assert review(context, [made.chunk(60_000, edges=back)]).releases == []
    release = review(context, [made.chunk(60_000, edges=through)]).releases[0]
    assert (release.t_ms, release.to_state) == (20_000, "third")


def test_pwm_line_is_read_from_its_duty(made):
    lines = (LineSpec(1, "clutch", kind="pwm"), made.van.lines[1])
    context = replace(made.van, lines=lines)
    duties = [(0, 1, 900), (30_000, 1, 550), (40_000, 1, 100), (50_000, 1, 900)]
    chunk = made.chunk(80_000, duties=duties, edges=made.edges((0, 2, 0)))
    assert [r.t_ms for r in review(context, [chunk]).releases] == [40_000]


def test_answer_after_the_bell_and_press_belong_to_the_release(made):
    marks = [(32_000, MARK_BUTTON, 500), (45_000, MARK_FOOT, 0)]
    release = reviewed(made, kick(30_000), marks=marks).releases[0]
    assert release.pressed
    assert (release.cause, release.cause_detail) == ("driver", "answered: foot")


def test_lost_supply_is_no_release(made):
    found = reviewed(made, [(30_000, 1, 0), (30_020, 3, 0), (40_000, 3, 1), (40_000, 1, 1)])
    assert found.releases == []


def test_contradicting_context_is_refused_with_all_faults(made):
    patterns = (
        *made.van.patterns,
        StatePattern("again", ((1, True),)),
        StatePattern("x", ((5, True),)),
    )
    with pytest.raises(Refused) as refusal:
        start(replace(made.van, patterns=patterns))
    codes = {remark.code for remark in refusal.value.remarks}
    assert codes >= {"pattern_ambiguous", "pattern_line"}


def busy_record(made, seed):
    """Twenty minutes of everything."""
    rng = np.random.default_rng(seed)
    n = 400_000
    ohm = made.ohm(85 + 5 * np.sin(np.arange(n) / 5e4))
    edges = [(0, 1, 1), (0, 2, 0), (0, 3, 1)]
    moves, marks = [], []
    for t in np.sort(rng.integers(10_000, n - 10_000, 14)).tolist():
        what = rng.integers(0, 4)
        length = int(rng.integers(20, 900))
        if what == 0:
            ohm[t : t + length] = 1e7
        elif what == 1:
            moves += [(t, MOVE_OPEN, 0), (t + length, MOVE_THROUGH, 0)]
        elif what == 2:
            edges += [(t - 300, 2, 1), (t - 300 + 2 * length, 2, 0)]
        marks.append(
            (t + 1500, int(rng.choice((MARK_BUTTON, MARK_FOOT))), int(rng.integers(0, 900)))
        )
        edges += kick(t + int(rng.integers(0, 800)), int(rng.integers(200, 5000)))
    moves.sort()
    rows = made.buckets(made.node(np.minimum(ohm, 1e7)), None, 0, 0, 0.001, rng)
    return made.chunk(n, samples=rows, edges=made.edges(*edges), moves=moves, marks=sorted(marks))


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_the_cut_of_the_record_changes_nothing(data):
    made = data.draw(st.just(MADE))
    chunk = busy_record(made, data.draw(st.integers(0, 40)))
    cuts = data.draw(st.lists(st.integers(1, 399_999), max_size=30))
    whole = review(made.van, [chunk])
    state = start(made.van)
    parts = [step(state, part)[1] for part in made.cut(chunk, cuts)]
    pieces = joined([*parts, finish(state)])
    assert pieces.as_dict() == whole.as_dict()
    assert np.array_equal(pieces.temperature, whole.temperature)


MADE = None


@pytest.fixture(autouse=True)
def _made(made):
    global MADE
    MADE = made
