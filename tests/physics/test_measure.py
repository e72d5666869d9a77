"""Measuring the module: right sources found, stated uncertainty honest, faults named."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.errors import Misuse, Refused
from locum.physics.circuit import Stage, Thevenin, node_v
from locum.physics.measure import best_load_ohm, load_factor, thevenin
from locum.physics.measure_doubts import Expected
from locum.physics.measure_fit import agrees

TWO_STAGE = Thevenin(5.0, 10_000.0, stages=(Stage(909.0909, below_v=1.2),))


def codes(remarks) -> set[str]:
    return {remark.code for remark in remarks}


@settings(deadline=None, max_examples=60)
@given(
    voc=st.floats(4.8, 5.2),
    rth=st.floats(300, 20_000),
    shares=st.lists(st.floats(0.2, 5.0), min_size=1, max_size=4, unique_by=lambda s: round(s, 1)),
    with_open=st.booleans(),
)
def test_exact_readings_give_the_source_back(voc, rth, shares, with_open):
    loads = [share * rth for share in shares]
    if not with_open and len(loads) < 2:
        loads.append(loads[0] * 3)
    source = Thevenin(voc, rth)
    measured = thevenin(voc if with_open else None, [(r, node_v(source, r)) for r in loads])
    assert measured.source.voc_v == pytest.approx(voc, rel=1e-8)
    assert measured.source.rth_ohm == pytest.approx(rth, rel=1e-8)
    assert measured.chi2 == pytest.approx(0.0, abs=1e-9)
    assert not measured.two_stage
    assert measured.refusals == ()


def test_order_of_loads_does_not_matter():
    loads = [(2200, 2.24), (1000, 1.36), (4700, 3.19)]
    one, other = thevenin(5.0, loads), thevenin(5.0, loads[::-1])
    assert one.source.rth_ohm == pytest.approx(other.source.rth_ohm, rel=1e-10)
    assert one.source.u_rth_ohm == pytest.approx(other.source.u_rth_ohm, rel=1e-10)


@pytest.mark.parametrize("loads", [(2200.0,), (1000.0, 2200.0, 4700.0)])
@pytest.mark.parametrize("gain_pct", [0.0, 1.0])
def test_stated_uncertainty_is_that_of_drawn_readings(loads, gain_pct):
    rng = np.random.default_rng(11)
    source = Thevenin(5.0, 2700.0)
    found = []
    for _ in range(500):
        gain = 1 + rng.uniform(-1, 1) * gain_pct / 100
        readings = [
            (
                r,
                gain * node_v(source, r * (1 + 0.01 * rng.uniform(-1, 1)))
                + 0.01 * rng.uniform(-1, 1),
            )
            for r in loads
        ]
        opened = gain * 5.0 + 0.01 * rng.uniform(-1, 1)
        result = thevenin(opened, readings, gain_error_pct=gain_pct).source
        found.append((result.voc_v, result.rth_ohm, result.u_voc_v, result.u_rth_ohm))
    voc, rth, u_voc, u_rth = np.array(found).T
    assert rth.std() == pytest.approx(u_rth.mean(), rel=0.12)
    assert voc.std() == pytest.approx(u_voc.mean(), rel=0.12)
    assert rth.mean() == pytest.approx(2700.0, abs=4 * u_rth.mean() / 500**0.5 + 1.0)


def test_a_common_gain_drops_out_of_rth_and_stays_in_voc():
    loads = [(2400.0, 2.37)]
    plain, gained = thevenin(5.02, loads), thevenin(5.02, loads, gain_error_pct=1.0)
    assert gained.source.u_rth_ohm == pytest.approx(plain.source.u_rth_ohm, rel=1e-9)
    assert gained.source.u_voc_v == pytest.approx(np.hypot(0.01, 0.0502) / 3**0.5, rel=1e-6)
    scaled = thevenin(5.02 * 1.02, [(2400.0, 2.37 * 1.02)])
    assert scaled.source.rth_ohm == pytest.approx(plain.source.rth_ohm, rel=1e-12)


def test_meter_loading_is_corrected_where_the_meter_is_stated():
    source, meter = Thevenin(5.0, 10_000.0), 1e6
    beside = 1 / (1 / 8200 + 1 / meter)
    readings = node_v(source, meter), node_v(source, beside)
    loaded = thevenin(readings[0], [(8200.0, readings[1])])
    corrected = thevenin(readings[0], [(8200.0, readings[1])], meter_ohm=meter)
    assert loaded.source.rth_ohm == pytest.approx(10_000 / 1.01, rel=1e-6)
    assert corrected.source.rth_ohm == pytest.approx(10_000, rel=1e-9)
    assert corrected.source.voc_v == pytest.approx(5.0, rel=1e-9)


def test_best_load_is_the_minimum_of_its_factor():
    ratios = np.linspace(0.3, 3, 2701)
    factors = [load_factor(ratio) for ratio in ratios]
    assert ratios[int(np.argmin(factors))] == pytest.approx(best_load_ohm(1.0), abs=0.002)


@settings(deadline=None, max_examples=40)
@given(
    cold=st.floats(8_000, 30_000),
    share=st.floats(0.03, 0.3),
    cold_loads=st.lists(
        st.floats(0.6, 4.0), min_size=1, max_size=2, unique_by=lambda s: round(s, 1)
    ),
)
def test_two_stages_are_told_apart(cold, share, cold_loads):
    hot = cold * share
    source = Thevenin(5.0, cold, stages=(Stage(hot, below_v=1.2),))
    below = 0.9 * cold * 1.2 / 3.8
    loads = [factor * cold for factor in cold_loads] + [below, 0.5 * below]
    measured = thevenin(5.0, [(r, node_v(source, r)) for r in loads])
    assert measured.two_stage
    assert measured.source.rth_ohm == pytest.approx(cold, rel=1e-4)
    assert measured.source.stages[0].rth_ohm == pytest.approx(hot, rel=1e-4)
    low, high = measured.switch_v
    assert low < 1.2 < high
    assert "two_stage_pull_up" in codes(measured.warnings)
    assert measured.refusals == ()


def test_two_stages_without_an_open_reading():
    loads = [(20_000, 15_000, 1000, 500)]
    readings = [(float(r), node_v(TWO_STAGE, r)) for r in loads[0]]
    measured = thevenin(None, readings)
    assert measured.two_stage
    assert measured.source.stages[0].rth_ohm == pytest.approx(909.09, rel=1e-3)


def test_noise_is_not_taken_for_a_second_stage():
    rng = np.random.default_rng(2)
    source, wrong = Thevenin(5.0, 2700.0), 0
    for _ in range(300):
        loads = [
            (r, node_v(source, r) + 0.01 * rng.uniform(-1, 1)) for r in (1000.0, 2200.0, 4700.0)
        ]
        measured = thevenin(5.0 + 0.01 * rng.uniform(-1, 1), loads, ohm_error_pct=0.1)
        wrong += measured.two_stage or "loads_disagree" in codes(measured.warnings)
    assert wrong <= 6


def test_readings_no_source_explains_are_said_to_disagree():
    source = Thevenin(5.0, 1000.0)
    loads = [(1000.0, node_v(source, 1000.0)), (500.0, node_v(source, 500.0)), (5000.0, 3.9)]
    measured = thevenin(5.0, loads)
    assert "loads_disagree" in codes(measured.warnings)
    assert measured.chi2 > 100


@pytest.mark.parametrize(
    ("open_v", "loads", "code"),
    [
        (8.0, [(1000.0, 4.0)], "pull_up_8v"),
        (12.4, [(1000.0, 6.2)], "pull_up_12v"),
        (13.8, [(1000.0, 13.75)], "shorted_to_supply"),
        (5.0, [(1000.0, 4.97)], "shorted_to_supply"),
        (3.4, [(1000.0, 1.7)], "weak_reference_or_leak"),
    ],
)
def test_inputs_that_must_not_be_fed_are_named_and_refused(open_v, loads, code):
    measured = thevenin(open_v, loads)
    assert codes(measured.refusals) == {code}
    assert f"{open_v:.3f} V" in measured.refusals[0].found


def test_a_leak_and_a_weak_reference_are_told_apart_where_the_pull_up_is_known():
    well = Expected(5.0, 1000.0)
    weak = Thevenin(4.2, 1000.0)
    leaking = Thevenin(5.0 * 4000 / 5000, 800.0)  # 4 kohm to ground beside the sensor
    for source, code in ((weak, "weak_reference"), (leaking, "leak")):
        measured = thevenin(source.voc_v, [(1000.0, node_v(source, 1000.0))], expected=well)
        assert codes(measured.refusals) == {code}
    assert "4000 ohm" in measured.refusals[0].found


def test_a_slightly_low_supply_is_a_warning_only():
    source = Thevenin(4.65, 1000.0)
    measured = thevenin(4.65, [(1000.0, node_v(source, 1000.0))])
    assert measured.refusals == ()
    assert codes(measured.warnings) == {"weak_reference_or_leak"}


def test_a_supply_beyond_the_boards_line_is_warned_about():
    measured = thevenin(5.6, [(1000.0, 2.8)])
    assert measured.refusals == ()
    assert codes(measured.warnings) == {"above_board_line"}


def test_a_poor_load_asks_for_a_better_one():
    source = Thevenin(5.0, 2700.0)
    measured = thevenin(5.0, [(100_000.0, node_v(source, 100_000.0))])
    (remark,) = (r for r in measured.warnings if r.code == "rth_unsure")
    assert "2200 ohm" in remark.remedy


@pytest.mark.parametrize(
    ("open_v", "loads", "said"),
    [
        (5.0, [], "one load"),
        (None, [(1000.0, 2.5)], "two different loads"),
        (None, [(1000.0, 2.5), (1000.0, 2.51)], "two different loads"),
        (0.0, [(1000.0, 0.0)], "ignition"),
        (4.0, [(1000.0, 4.5)], "less than the open"),
    ],
)
def test_readings_without_a_source_are_refused(open_v, loads, said):
    with pytest.raises(Refused, match=said):
        thevenin(open_v, loads)


@pytest.mark.parametrize(
    "wrong", [{"volt_error_v": 0.0}, {"ohm_error_pct": -1}, {"meter_ohm": 0.0}]
)
def test_impossible_errors_are_misuse(wrong):
    with pytest.raises(Misuse):
        thevenin(5.0, [(1000.0, 2.5)], **wrong)
    with pytest.raises(Misuse, match="above zero"):
        thevenin(5.0, [(-10.0, 2.5)])


def test_agreement_limit_is_near_the_chi_square_table():
    # Printed 99.7 % points: 8.81 for 1 degree of freedom, 11.62 for 2, 17.8 for 5 (from memory).
    for freedom, point in ((1, 8.81), (2, 11.62), (5, 17.8)):
        assert agrees(point * 0.96, freedom)
        assert not agrees(point * 1.04, freedom)
    assert agrees(1e9, 0)


def test_the_result_is_plain_json():
    import json

    measured = thevenin(5.0, [(10_000, 2.5), (1000, 2.619), (500, 1.774)])
    data = json.loads(json.dumps(measured.to_dict()))
    assert data["two_stage"] is True
    assert data["stages"][0]["rth_ohm"] == pytest.approx(909, abs=2)
    assert data["warnings"][0]["code"] == "two_stage_pull_up"
