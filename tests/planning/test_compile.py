"""Plans: rows that the board takes, loops kept whole, and every objection a profile can earn."""

from __future__ import annotations

import numpy as np
import pytest

from locum.jobs.circuit import open_board
from locum.physics.circuit import Thevenin
from locum.physics.curve_ntc import NtcCurve
from locum.physics.network import Network
from locum.planning.compile import compile_plan
from locum.planning.timeline import line, timeline
from locum.sheets.module import ASSUMED, ModuleSheet
from locum.sheets.profile import read_profile
from locum_board.steps import MAX_STEPS, REPEAT, block_fault, unpack_steps

CURVE = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7)
"""Published coolant sensor, 2.5 kohm at 20 degC (Jeep Compass 2021, fitted at 0/40/100 degC)."""
MODULE = ModuleSheet("measured", "measured", Thevenin(5.0, 1000.0))


@pytest.fixture(scope="module")
def network():
    return Network.from_board(open_board("reference")[0])


def plan_of(network, text: str, module=MODULE, **options):
    profile = read_profile(f'schema = 1\nunit = "celsius"\n{text}')
    spans = timeline(profile, CURVE, options.get("fast", False))
    return compile_plan(spans, CURVE, network, module, on_silence=profile.on_silence, **options)


def codes(remarks) -> set[str]:
    return {remark.code for remark in remarks}


def test_every_block_of_a_long_plan_is_taken_by_the_board(network):
    plan = plan_of(network, "[[segment]]\nsweep = {from = 20, to = 100, minutes = 10, times = 1}")
    blocks = plan.blocks()
    assert plan.ok
    assert len(plan) > MAX_STEPS
    assert len(blocks) == -(-len(plan) // MAX_STEPS)
    assert [block_fault(block, len(block)) for block in blocks] == [None] * len(blocks)


def test_a_loop_is_one_span_and_a_repeat_and_lasts_as_long(network):
    plan = plan_of(network, "[[segment]]\nhold = {at = 80, minutes = 20}")
    (block,) = plan.blocks()
    rows = unpack_steps(plan.rows().astype("<u2").tobytes())
    repeats = [row for row in rows if row[6] & REPEAT]
    assert block_fault(block, len(block)) is None
    assert repeats == [(0, len(plan), 19, 0, 0, 0, REPEAT)]
    assert plan.seconds == 20 * 60
    assert plan.standing_s == 20 * 60 + 60


def test_no_block_ends_inside_a_loop(network):
    ramp = "[[segment]]\nramp = {from = 5, to = 104, minutes = 12}\n"
    plan = plan_of(network, ramp + "[[segment]]\nhold = {at = 104, minutes = 5, wander = 2}\n")
    blocks = plan.blocks()
    assert len(blocks) == 2
    assert [block_fault(block, len(block)) for block in blocks] == [None, None]


def test_the_expected_node_is_the_dividers(network):
    """V = Voc R / (R + Rth), the published voltage of 5 V through 1 kohm (Saab 9-3 2002)."""
    plan = plan_of(network, "[[segment]]\nhold = {at = 20, minutes = 1, wander = 0}")
    ohm = plan.choice.set_ohm[0]
    assert plan.node_half_mv[0] / 2000 == pytest.approx(5.0 * ohm / (ohm + 1000.0), abs=0.0005)


def test_the_self_check_widens_where_less_is_known(network):
    text = "[[segment]]\nhold = {at = 80, minutes = 1}"
    assert set(plan_of(network, text, ASSUMED).tolerance) == {0}
    assert plan_of(network, text).tolerance.min() >= 1


def test_opens_are_not_checked_and_may_set_codes_when_they_last(network):
    text = '[[segment]]\nglitches = {at = 80, towards = "cold", length_ms = 900, every_s = 5, count = 2}'
    plan = plan_of(network, text)
    assert set(plan.tolerance[plan.contact == 1]) == {0}
    assert "codes_possible" in codes(plan.warnings)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("[[segment]]\nramp = {from = 20, to = 90, minutes = 1}", "rate"),
        ("[[segment]]\nhold = {at = 80, minutes = 300}", "too_long"),
        ("[[segment]]\nhold = {at = 190, minutes = 1}", "reach"),
    ],
)
def test_refusals_name_what_binds(network, text, code):
    plan = plan_of(network, text)
    assert not plan.ok
    found = codes(plan.refusals)
    assert code in found or (code == "reach" and any("66 ohm" in r.text for r in plan.refusals))


def test_a_fast_ramp_is_allowed_when_asked_for(network):
    assert plan_of(network, "[[segment]]\nramp = {from = 20, to = 90, minutes = 1}", fast=True).ok


def test_a_pull_up_beyond_six_volts_is_refused(network):
    module = ModuleSheet("eight", "eight", Thevenin(8.0, 2200.0))
    plan = plan_of(network, "[[segment]]\nhold = {at = 80, minutes = 1}", module)
    assert "pull_up_voltage" in codes(plan.refusals)


def test_finishing_alone_needs_the_whole_plan_on_board(network):
    sweep = "[[segment]]\nsweep = {from = 20, to = 100, minutes = 10}"
    profile = read_profile(f'schema = 1\nunit = "celsius"\non_silence = "finish"\n{sweep}')
    plan = compile_plan(timeline(profile, CURVE), CURVE, network, MODULE, on_silence="finish")
    assert "finish_in_parts" in codes(plan.refusals)


def test_a_value_that_never_moves_looks_stuck(network):
    still = plan_of(network, "[[segment]]\nhold = {at = 80, minutes = 2, wander = 0}")
    alive = plan_of(network, "[[segment]]\nhold = {at = 80, minutes = 2}")
    assert "looks_stuck" in codes(still.warnings)
    assert "looks_stuck" not in codes(alive.warnings)


@pytest.mark.parametrize(("count", "warned"), [(6, False), (7, True), (8, True)])
def test_a_train_near_a_makers_erratic_count_is_warned_of(network, count, warned):
    """GM ATF erratic (service information 1997-2004): more than 20 K within 0.2 s, 14-15 times in 7 s
    is a fault; one glitch is two changes. The warning must come before 14 are reached."""
    text = (
        f'[[segment]]\nglitches = {{at = 80, towards = "cold", by = 40, length_ms = 100, '
        f"every_s = 0.8, count = {count}}}"
    )
    assert ("plausibility_count" in codes(plan_of(network, text).warnings)) is warned


def test_an_empty_profile_of_no_time_is_refused(network):
    from locum.errors import Refused

    with pytest.raises(Refused, match="no time"):
        compile_plan([line("", "hold", (0.0, 80.0), (0.0, 80.0))], CURVE, network, MODULE)


def test_steps_keep_to_the_asked_curve_on_the_reference_board(network):
    plan = plan_of(network, "[[segment]]\nwarmup = {from = 20, to = 90, tau_s = 320, minutes = 15}")
    assert plan.worst_error_c <= 0.05
    assert plan.rms_error_c <= 0.01
    asked = np.asarray(CURVE.resistance_ohm(plan.celsius))
    assert np.allclose(plan.target_ohm, asked)
