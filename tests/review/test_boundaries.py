"""Both sides of every boundary that decides what a release is: a line moved by a little must show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from locum.review import LineSpec, StatePattern, review
from locum.review.chunk import (
    AUX_RETURN_OFFSET,
    AUX_THROTTLE,
    MOVE_OPEN,
    MOVE_STEP,
    MOVE_THROUGH,
    SOURCE_REAL,
    SOURCE_STAND_IN,
)

BASE = [(0, 1, 1), (0, 2, 0), (0, 3, 1)]
AT = 30_000


def kick(t_ms=AT, back_ms=4000):
    return [(t_ms, 1, 0), (t_ms + back_ms, 1, 1)]


def reviewed(made, edges, context=None, end_ms=120_000, **more):
    chunk = made.chunk(end_ms, edges=made.edges(*BASE, *edges), **more)
    return review(context or made.van, [chunk])


@pytest.mark.parametrize(("length_ms", "cause"), [(480, "none"), (520, "driver")])
def test_a_foot_is_on_the_brake_for_half_a_second(made, length_ms, cause):
    found = reviewed(made, [(AT - 400, 2, 1), (AT - 400 + length_ms, 2, 0), *kick()])
    assert found.releases[0].cause == cause
    assert found.releases[0].brake_pulse_ms == length_ms


@pytest.mark.parametrize(("gone_ms", "cause"), [(1450, "driver"), (1550, "none")])
def test_a_foot_explains_for_a_second_and_a_half(made, gone_ms, cause):
    off = AT - gone_ms
    assert reviewed(made, [(off - 2000, 2, 1), (off, 2, 0), *kick()]).releases[0].cause == cause


@pytest.mark.parametrize(("after_ms", "cause"), [(-20, "driver"), (20, "none")])
def test_a_brake_pressed_after_it_explains_nothing(made, after_ms, cause):
    on = AT + after_ms
    assert reviewed(made, [(on, 2, 1), (on + 3000, 2, 0), *kick()]).releases[0].cause == cause


@pytest.mark.parametrize(("moved_ms", "cause"), [(-1450, "driver"), (-1550, "none")])
def test_a_lever_explains_for_a_second_and_a_half(made, moved_ms, cause):
    context = replace(made.van, lines=(*made.van.lines, LineSpec(4, "lever", role="selector")))
    found = reviewed(made, [(0, 4, 0), (AT + moved_ms, 4, 1), *kick()], context)
    assert found.releases[0].cause == cause


@pytest.mark.parametrize(("step_v", "cause"), [(0.38, "none"), (0.42, "driver")])
def test_a_throttle_must_move_by_its_step(made, step_v, cause):
    context = replace(made.van, throttle=True)
    rows = [(t, AUX_THROTTLE, 12_000 if t < AT - 500 else 12_000 + round(1e4 * step_v))
            for t in range(0, 60_000, 100)]  # fmt: skip
    found = reviewed(made, kick(), context, aux=rows)
    assert found.releases[0].cause == cause
    assert len(found.throttle) == (cause == "driver")


def test_a_throttle_that_comes_back_is_told_once(made):
    """Half the step is its hysteresis: swinging about the boundary is one move."""
    context = replace(made.van, throttle=True)
    swing = [0, 0.45, 0.3, 0.45, 0.3, 0.45]
    rows = [(20_100 + 100 * n, AUX_THROTTLE, 12_000 + round(1e4 * v)) for n, v in enumerate(swing)]
    rows = [(t, AUX_THROTTLE, 12_000) for t in range(0, 20_000, 1000)] + rows
    found = reviewed(made, [], context, aux=rows)
    assert len(found.throttle) <= 2


def test_a_shift_of_the_return_wire_that_hovers_is_one_event(made):
    """30 mV begin it, only below half of that it is over."""
    volts = [0.0] * 20 + [0.04, 0.02, 0.04, 0.02, 0.04] + [0.0] * 20
    rows = [(1000 * n, AUX_RETURN_OFFSET, round(1e4 * v)) for n, v in enumerate(volts)]
    assert reviewed(made, [], aux=rows).offset_events == [(20_000, 5000)]


@pytest.mark.parametrize(("stood_ms", "counts"), [(2900, False), (3100, True)])
def test_a_state_is_held_once_it_has_stood_three_seconds(made, stood_ms, counts):
    edges = [(AT, 1, 0), (AT + 20_000, 1, 1), *kick(AT + 20_000 + stood_ms)]
    assert (len(reviewed(made, edges).releases) == 2) is counts


@pytest.mark.parametrize(("gone_ms", "counts"), [(480, False), (520, True)])
def test_a_release_lasts_half_a_second(made, gone_ms, counts):
    assert (len(reviewed(made, kick(AT, gone_ms)).releases) == 1) is counts


def test_a_flicker_shorter_than_a_release_leaves_the_state_held(made):
    """A loss of 300 ms two seconds before does not make the state new."""
    assert len(reviewed(made, [*kick(AT - 2000, 300), *kick()]).kick_outs) == 1


def test_a_real_loss_before_makes_the_state_new(made):
    """Back for two seconds only after a loss of 800 ms: the second is no release of its own."""
    assert [r.t_ms for r in reviewed(made, [*kick(AT - 2800, 800), *kick()]).releases] == [
        AT - 2800
    ]


@pytest.mark.parametrize(("stay_ms", "changes"), [(28, 0), (32, 2)])
def test_what_holds_shorter_than_the_debounce_is_the_modules_own_test(made, stay_ms, changes):
    found = reviewed(made, [(AT, 2, 1), (AT + stay_ms, 2, 0)])
    assert (len(found.brake), len(found.pulses)) == (changes / 2, 1 - changes / 2)


def opened(made, begin_ms, length_ms, source=SOURCE_REAL):
    node = made.node(made.ohm(np.full(120_000, 88.0)))
    node[begin_ms : begin_ms + length_ms] = 5.0
    return made.buckets(node, None, source, 0, 0.001, np.random.default_rng(4))


@pytest.mark.parametrize(
    ("length_ms", "after_ms", "linked"),
    [
        (200, 1150, True),
        (200, 1250, False),
        (1500, 2450, True),
        (1500, 2550, False),
        (200, -20, False),
    ],
)
def test_the_look_back_is_the_measured_delay_and_the_length(made, length_ms, after_ms, linked):
    """The module answers within 1 s: a release may come 1 s and the glitch's length after its start."""
    rows = opened(made, AT, length_ms)
    found = reviewed(made, kick(AT + after_ms), samples=rows)
    assert (found.releases[0].linked_glitch is not None) is linked
    assert found.releases[0].cause == "none"


@pytest.mark.parametrize(("length_ms", "linked"), [(80, False), (120, True)])
def test_a_glitch_shorter_than_the_module_answers_links_nothing(made, length_ms, linked):
    context = replace(made.van, shortest_answered_ms=100)
    found = reviewed(made, kick(AT + 500), context, samples=opened(made, AT, length_ms))
    assert len(found.glitches) == 1
    assert (found.releases[0].linked_glitch is not None) is linked


@pytest.mark.parametrize(("after_ms", "cause"), [(980, "ours"), (1020, "none")])
def test_our_open_is_answered_until_the_delay_after_its_end(made, after_ms, cause):
    moves = [(AT - 3000, MOVE_OPEN, 0), (AT, MOVE_THROUGH, 0)]
    found = reviewed(made, kick(AT + after_ms), moves=moves)
    assert found.releases[0].cause == cause
    assert found.injections[0].answered_ms == (3000 + after_ms if cause == "ours" else None)


def test_of_two_opens_in_the_look_back_the_later_one_is_answered(made):
    moves = [(AT - 1400, MOVE_OPEN, 0), (AT - 1200, MOVE_THROUGH, 0),
             (AT - 500, MOVE_OPEN, 0), (AT - 300, MOVE_THROUGH, 0)]  # fmt: skip
    context = replace(made.van, module_delay_ms=(100, 2000))
    found = reviewed(made, kick(), context, moves=moves)
    assert [i.answered_ms for i in found.injections] == [None, 500]


@pytest.mark.parametrize(("back_s", "lengths"), [(20, [20_000]), (40, [0, 0])])
def test_a_jump_never_taken_back_is_a_new_value(made, back_s, lengths):
    near, far = (round(5e4 * ohm / (ohm + 1000)) for ohm in (300, 10_000))
    moves = [(0, MOVE_STEP, near), (AT, MOVE_STEP, far), (AT + 1000 * back_s, MOVE_STEP, near)]
    found = reviewed(made, [], moves=moves, end_ms=200_000)
    assert [i.length_ms for i in found.injections] == lengths


@pytest.mark.parametrize(("apart_ms", "bursts"), [(900, 1), (1100, 2)])
def test_glitches_within_a_second_are_one_burst(made, apart_ms, bursts):
    node = made.node(made.ohm(np.full(120_000, 88.0)))
    for begin in (AT, AT + 100 + apart_ms):
        node[begin : begin + 100] = 5.0
    rows = made.buckets(node, None, SOURCE_REAL, 0, 0.001, np.random.default_rng(4))
    found = reviewed(made, [], samples=rows).glitches
    assert len(found) == 2
    assert len({g.burst for g in found}) == bursts


def test_a_glitch_of_the_line_while_standing_in_lies_between_tap_and_module(made):
    moves = [(0, MOVE_STEP, round(float(made.node(made.ohm(88.0))) * 1e4))]
    found = reviewed(made, [], moves=moves, samples=opened(made, AT, 200, SOURCE_STAND_IN)).glitches
    assert [(g.place, g.kind, g.depth_ohm) for g in found] == [("line", "range", float("inf"))]
    real = reviewed(made, [], samples=opened(made, AT, 200)).glitches
    assert [g.place for g in real] == ["circuit"]


@pytest.mark.parametrize(
    ("skew_ms", "states"), [(60, ["top", "third"]), (100, ["top", "odd", "third"])]
)
def test_lines_that_change_together_settle_within_eighty_milliseconds(made, skew_ms, states):
    patterns = (
        StatePattern("top", ((1, True), (4, True)), held=True),
        StatePattern("third", ((1, False), (4, False))),
        StatePattern("odd", ((1, False), (4, True))),
    )
    lines = (*made.van.lines, LineSpec(4, "other solenoid"))
    context = replace(made.van, lines=lines, patterns=patterns)
    found = reviewed(made, [(0, 4, 1), (AT, 1, 0), (AT + skew_ms, 4, 0)], context)
    assert [name for _, name in found.states] == states


@pytest.mark.parametrize(("changes", "hunts"), [(3, False), (4, True)])
def test_four_changes_in_a_minute_are_hunting(made, changes, hunts):
    edges = [(AT + 8000 * n, 1, n % 2) for n in range(changes)]
    found = reviewed(made, edges, end_ms=200_000)
    assert [row[2] for row in found.hunting] == ([changes] if hunts else [])


@pytest.mark.parametrize(("apart_ms", "told"), [(450, True), (550, False)])
def test_three_changes_of_a_line_in_a_second_are_chatter(made, apart_ms, told):
    found = reviewed(made, [(AT + apart_ms * n, 1, n % 2) for n in range(3)])
    assert [line for _, line in found.chatter] == ([1] if told else [])


def test_an_active_low_line_and_one_that_is_ignored(made):
    lines = (LineSpec(1, "clutch", on_level=0), LineSpec(2, "brake", on_level=0, role="brake"),
             LineSpec(5, "loose", kind="ignore"))  # fmt: skip
    context = replace(made.van, lines=lines)
    edges = made.edges((0, 1, 0), (0, 2, 1), *((t, 5, t // 100 % 2) for t in range(0, 5000, 100)),
                       (AT, 1, 1), (AT + 4000, 1, 0), (80_000, 2, 0), (81_000, 1, 1), (83_000, 2, 1))  # fmt: skip
    found = review(context, [made.chunk(120_000, edges=edges)])
    assert [r.cause for r in found.releases] == ["none", "driver"]
    assert found.brake == [(80_000, 3000)]
    assert found.chatter == found.pulses == []
