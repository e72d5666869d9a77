"""The module's input: divider, two stages, and what the module believes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.errors import Misuse, Refused
from locum.physics.circuit import (
    Stage,
    Thevenin,
    believed_ohm,
    current_a,
    node_sensitivity_v_per_ohm,
    node_v,
    resistance_from_node_ohm,
    rth_ohm,
    self_heating_w,
    total_ohm,
    u_resistance_from_node_ohm,
)
from locum.physics.curve import NtcCurve
from locum.physics.glitch_seen import seen_c, shortest_length_s

ONE_K = Thevenin(5.0, 1000.0)
TWO_STAGE = Thevenin(5.0, 10_000.0, stages=(Stage(909.0909, below_v=1.2),))
FLUID = NtcCurve(9.20113738e-4, 2.68650219e-4, 1.05038939e-7)
ohms = st.floats(1.0, 1e6)


def test_short_open_and_equal_resistance():
    assert node_v(ONE_K, 0.0) == 0.0
    assert node_v(ONE_K, math.inf) == 5.0
    assert node_v(ONE_K, 1000.0) == pytest.approx(2.5, rel=1e-15)
    assert current_a(ONE_K, 0.0) == pytest.approx(5e-3, rel=1e-15)
    assert current_a(ONE_K, math.inf) == 0.0


@settings(deadline=None, max_examples=60)
@given(r=ohms, rth=st.floats(100, 1e5), voc=st.floats(0.5, 15))
def test_node_and_resistance_go_both_ways(r, rth, voc):
    source = Thevenin(voc, rth)
    volts = node_v(source, r)
    assert 0 < volts < voc
    # Near the supply one bit of the voltage is worth many of the resistance.
    assert resistance_from_node_ohm(source, volts) == pytest.approx(
        r, rel=1e-15 * (1 + r / rth) * 20 + 1e-12
    )
    assert believed_ohm(source, r) == pytest.approx(r, rel=1e-9)
    assert current_a(source, r) * r == pytest.approx(volts, rel=1e-12)


@settings(deadline=None, max_examples=60)
@given(
    r=st.floats(50, 1e5),
    lead=st.floats(0, 200),
    leak=st.floats(1e3, 1e7),
    offset=st.floats(-0.1, 0.2),
)
def test_node_obeys_kirchhoff_with_lead_leak_and_offset(r, lead, leak, offset):
    volts = node_v(ONE_K, r, lead, leak, offset)
    out = (5.0 - volts) / 1000.0
    into_sensor, into_leak = (volts - offset) / (r + lead), (volts - offset) / leak
    assert out == pytest.approx(into_sensor + into_leak, abs=1e-12)


@settings(deadline=None, max_examples=60)
@given(r=st.floats(50, 1e5), more=st.floats(0.1, 100))
def test_a_lead_reads_colder_and_a_leak_hotter(r, more):
    assert believed_ohm(ONE_K, r, lead_ohm=more) == pytest.approx(r + more, rel=1e-9)
    assert believed_ohm(ONE_K, r, leak_ohm=1e5 / more) < r


def test_believed_beyond_the_rails():
    assert believed_ohm(ONE_K, math.inf) == math.inf
    assert believed_ohm(ONE_K, 100.0, offset_v=-2.0) == 0.0
    assert resistance_from_node_ohm(ONE_K, [-0.1, 0.0, 5.0, 5.1]).tolist() == [
        0,
        0,
        math.inf,
        math.inf,
    ]


def test_total_is_lead_in_series_and_leak_beside_both():
    assert total_ohm(900.0, 100.0, 1000.0) == pytest.approx(500.0)
    assert total_ohm(0.0) == 0.0
    assert total_ohm(math.inf) == math.inf
    assert total_ohm(math.inf, leak_ohm=2e4) == pytest.approx(2e4)
    with pytest.raises(Misuse):
        total_ohm(-1.0)


def test_two_stages_hold_from_cold_and_by_hand():
    assert rth_ohm(TWO_STAGE, [5000.0, 3000.0]).tolist() == [10_000.0, 909.0909]
    assert node_v(TWO_STAGE, 3000.0, stage=0) == pytest.approx(5 * 3 / 13)
    assert node_v(TWO_STAGE, 5000.0, stage=1) == pytest.approx(5 * 5000 / 5909.0909)
    volts = node_v(TWO_STAGE, 300.0)
    assert resistance_from_node_ohm(TWO_STAGE, volts, stage=1) == pytest.approx(300.0)
    assert believed_ohm(TWO_STAGE, 300.0) == pytest.approx(300.0)
    assert TWO_STAGE.lowest_rth_ohm() == 909.0909
    assert TWO_STAGE.two_stage
    assert not ONE_K.two_stage
    with pytest.raises(Misuse, match="stage 0 to 1"):
        node_v(TWO_STAGE, 100.0, stage=2)


@pytest.mark.parametrize("wrong", [(0.0, 1000.0), (5.0, 0.0), (float("nan"), 1000.0), (5.0, -3.0)])
def test_an_impossible_source_is_refused(wrong):
    with pytest.raises(Refused):
        Thevenin(*wrong)


def test_sensitivity_is_the_derivative_and_largest_relative_at_rth():
    grid = np.geomspace(50, 20_000, 400)
    by_difference = (node_v(ONE_K, grid + 0.01) - node_v(ONE_K, grid - 0.01)) / 0.02
    assert node_sensitivity_v_per_ohm(ONE_K, grid) == pytest.approx(by_difference, rel=1e-6)
    # By hand: dV/d(ln R) has its maximum Voc/4 at R = Rth.
    relative = grid * node_sensitivity_v_per_ohm(ONE_K, grid)
    assert grid[np.argmax(relative)] == pytest.approx(1000.0, rel=0.02)
    assert relative.max() == pytest.approx(1.25, rel=1e-4)


def test_uncertainty_from_the_node_agrees_with_drawing_lots():
    source = Thevenin(5.02, 2684.0, 0.006, 20.0, correlation=0.28)
    covariance = np.array([[0.006**2, 0.28 * 0.006 * 20], [0.28 * 0.006 * 20, 400.0]])
    rng = np.random.default_rng(7)
    voc, rth = rng.multivariate_normal([5.02, 2684.0], covariance, 200_000).T
    for volts in (0.8, 2.4, 4.2):
        node = rng.normal(volts, 0.005, 200_000)
        drawn = rth * node / (voc - node)
        assert u_resistance_from_node_ohm(source, volts, 0.005) == pytest.approx(
            drawn.std(), rel=0.02
        )


def test_node_check_of_the_practice_page():
    # By hand: Rth 2684, u_V 5 mV: 0.13, 0.13, 0.21, 0.31 K at 20, 60, 90, 110 degC (curve A).
    source = Thevenin(5.0, 2684.0)
    for celsius, expected in ((20, 0.13), (60, 0.13), (90, 0.21), (110, 0.31)):
        volts = node_v(source, FLUID.resistance_ohm(celsius))
        u = u_resistance_from_node_ohm(source, volts, 0.005)
        assert u / abs(FLUID.slope_ohm_per_k(celsius)) == pytest.approx(expected, abs=0.006)


def test_self_heating_peaks_where_the_resistances_are_equal():
    # By hand: 6.25 mW at 1 k, 2.28 mW at 2.74 k, 0.63 mW at 10 k.
    for rth, milliwatt in ((1000, 6.25), (2740, 2.28), (10_000, 0.625)):
        power = self_heating_w(Thevenin(5.0, rth), np.geomspace(10, 1e6, 10_001))
        assert power.max() * 1e3 == pytest.approx(milliwatt, rel=0.005)


@pytest.mark.parametrize("way", ["open", "short"])
def test_shortest_glitch_and_what_is_seen_agree(way):
    threshold = 20.0 if way == "open" else 150.0
    length = shortest_length_s(FLUID, ONE_K, 90.0, threshold, 0.1, way)
    assert seen_c(FLUID, ONE_K, 90.0, length, 0.1, way) == pytest.approx(threshold, abs=1e-6)
    with pytest.raises(Refused, match="other way"):
        shortest_length_s(FLUID, ONE_K, 90.0, 110.0 if way == "open" else 20.0, 0.1, way)
