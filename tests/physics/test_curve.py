"""The curves: both ways, slopes, ranges, and digits that do not get lost."""

from __future__ import annotations

import time
from decimal import Decimal, getcontext

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from locum.errors import Misuse, Refused
from locum.physics.curve import (
    BetaCurve,
    NtcCurve,
    PlatinumCurve,
    SiliconCurve,
    TableCurve,
    curve_from_dict,
    tolerance_c,
)

KELVIN = 273.15
COOLANT = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7, span_c=(-40.0, 140.0))
FOUR_TERMS = NtcCurve(1.1867e-3, 1.3431e-4, -4.2663e-7, 1.4897e-5, span_c=(-30.0, 250.0))
BETA = BetaCurve(3600.0, 2500.0, 20.0, (20.0, 80.0))
TABLE = TableCurve(((-20, 15976), (0, 5975), (20, 2501), (40, 1152), (80, 308.6), (120, 105.4)))
RISING = TableCurve(((-40, 1135), (0, 1630), (25, 2000), (100, 3392), (150, 4280)))
PLATINUM = PlatinumCurve(1000.0)
SILICON = SiliconCurve(2000.0, (7.88e-3, 1.937e-5), (-50.0, 125.0))
CURVES = {
    "ntc": COOLANT,
    "four terms": FOUR_TERMS,
    "beta": BETA,
    "table": TABLE,
    "rising table": RISING,
    "platinum": PLATINUM,
    "silicon": SILICON,
}
every_curve = pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES)


@every_curve
@settings(deadline=None, max_examples=30)
@given(part=st.floats(0.0, 1.0))
def test_temperature_and_resistance_go_both_ways(curve, part):
    low, high = curve.domain_c
    celsius = low + part * (high - low)
    ohms = curve.resistance_ohm(celsius)
    assert curve.temperature_c(ohms) == pytest.approx(celsius, abs=1e-8)
    assert curve.resistance_ohm(curve.temperature_c(ohms)) == pytest.approx(ohms, rel=1e-9)


@every_curve
@settings(deadline=None, max_examples=30)
@given(part=st.floats(0.01, 0.99))
def test_slope_is_the_derivative(curve, part):
    low, high = curve.domain_c
    celsius = low + part * (high - low)
    step = 1e-3
    if any(abs(celsius - row[0]) < 2 * step for row in getattr(curve, "points", ())):
        assume(False)  # the second derivative jumps at a row, which blurs the difference
    above, below = curve.resistance_ohm(np.array([celsius + step, celsius - step]))
    assert curve.slope_ohm_per_k(celsius) == pytest.approx((above - below) / (2 * step), rel=1e-5)


@every_curve
def test_resistance_never_turns_back(curve):
    ohms = curve.resistance_ohm(np.linspace(*curve.domain_c, 20_001))
    steps = np.diff(ohms)
    assert np.all(steps > 0) or np.all(steps < 0)
    slopes = curve.slope_ohm_per_k(np.linspace(*curve.domain_c, 2_001))
    assert np.all(np.sign(slopes) == np.sign(steps[0]))


@every_curve
def test_scalars_give_floats_and_arrays_keep_their_shape(curve):
    assert isinstance(curve.resistance_ohm(50), float)
    assert isinstance(curve.temperature_c(curve.resistance_ohm(50)), float)
    assert isinstance(curve.slope_ohm_per_k(50), float)
    assert isinstance(curve.u_temperature_c(50), float)
    grid = np.array([[10.0, 20.0, 30.0], [40.0, 50.0, 60.0]])
    ohms = curve.resistance_ohm(grid)
    assert ohms.shape == grid.shape
    assert ohms[1, 1] == pytest.approx(curve.resistance_ohm(50.0), rel=1e-12)
    assert curve.temperature_c(ohms).shape == grid.shape
    assert curve.slope_ohm_per_k([10.0, 20.0]).shape == (2,)


@every_curve
def test_outside_the_domain_is_refused_with_both_ends_named(curve):
    low, high = curve.domain_c
    for wrong in (low - 0.1, high + 0.1, float("nan"), float("inf")):
        with pytest.raises(Refused) as refusal:
            curve.resistance_ohm([50.0, wrong])
        remark = refusal.value.remarks[0]
        assert remark.code == "outside_domain"
        assert f"{low:.6g} to {high:.6g}" in remark.wanted
    for wrong in (0.0, -5.0, float("nan"), curve.domain_ohm[1] * 1.001):
        with pytest.raises(Refused, match="ohm"):
            curve.temperature_c(wrong)


@every_curve
def test_recorded_values_beyond_the_domain_give_its_nearest_end(curve):
    low_ohm, high_ohm = curve.domain_ohm
    found = curve.nearest_temperature_c([0.0, 1e12, np.nan, curve.resistance_ohm(50.0)])
    ends = curve.domain_c if curve.slope_ohm_per_k(50.0) > 0 else curve.domain_c[::-1]
    assert found[:2] == pytest.approx(ends, abs=1e-6)
    assert np.isnan(found[2])
    assert found[3] == pytest.approx(50.0)
    assert isinstance(curve.nearest_temperature_c(0.0), float)
    assert low_ohm < high_ohm


@every_curve
def test_beyond_the_points_is_warned_about(curve):
    low, high = curve.span_c
    assert curve.outside_points([low, high]) == []
    if curve.domain_c[1] > high + 5:
        (remark,) = curve.outside_points([50.0, high + 5.0])
        assert remark.code == "outside_points"
        assert "by up to 5 K" in remark.found


@every_curve
def test_plain_data_gives_the_same_curve_back(curve):
    again = curve_from_dict(curve.to_dict())
    grid = np.linspace(*curve.domain_c, 500)
    assert np.array_equal(again.resistance_ohm(grid), curve.resistance_ohm(grid))
    assert again.span_c == curve.span_c


@every_curve
def test_thirty_six_thousand_points_are_quick(curve):
    grid = np.linspace(*curve.domain_c, 36_000)
    ohms = curve.resistance_ohm(grid)
    spent = []
    for _ in range(5):
        began = time.process_time()
        curve.resistance_ohm(grid)
        curve.temperature_c(ohms)
        spent.append(time.process_time() - began)
    assert min(spent) < 0.1


def exact_ohm(a: float, b: float, c: float, celsius: float) -> float:
    """Resistance by Newton's method with fifty digits: the truth for the inverse."""
    getcontext().prec = 50
    da, db, dc = Decimal(a), Decimal(b), Decimal(c)
    wanted = 1 / (Decimal(celsius) + Decimal("273.15")) - da
    x = wanted / db
    for _ in range(200):
        x -= (db * x + dc * x**3 - wanted) / (db + 3 * dc * x * x)
    return float(x.exp())


@pytest.mark.parametrize("c", [1.5e-7, 1e-9, 1e-12, 1e-16, 1e-25, 1e-300, 0.0, -1e-25, -1e-12,
                               -4e-9, -2.5e-8])  # fmt: skip
@pytest.mark.parametrize("celsius", [-40.0, 0.0, 25.0, 100.0, 250.0])
def test_inverse_keeps_its_digits_for_any_third_coefficient(c, celsius):
    curve = NtcCurve(1.1e-3, 2.6e-4, c)
    assert curve.resistance_ohm(celsius) == pytest.approx(
        exact_ohm(1.1e-3, 2.6e-4, c, celsius), rel=2e-13
    )


def test_third_coefficient_zero_is_beta():
    curve = NtcCurve(1 / 293.15 - np.log(2500) / 3600, 1 / 3600, 0.0)
    grid = np.linspace(-60, 200, 100)
    assert curve.resistance_ohm(grid) == pytest.approx(BETA.resistance_ohm(grid), rel=1e-12)


def test_square_term_of_zero_and_the_closed_form_agree_with_the_solver():
    solved = NtcCurve(COOLANT.a, COOLANT.b, COOLANT.c, 1e-30)
    grid = np.linspace(-90, 300, 500)
    assert solved.resistance_ohm(grid) == pytest.approx(COOLANT.resistance_ohm(grid), rel=1e-11)


def test_a_formula_that_turns_back_ends_where_it_turns():
    turn = 18.0  # ln ohm, where the slope b + 3 c x^2 is zero
    c = -2.8e-4 / (3 * turn**2)
    curve = NtcCurve(1.0e-3, 2.8e-4, c, span_c=(0.0, 100.0))
    coldest = 1 / (1.0e-3 + 2.8e-4 * turn + c * turn**3) - KELVIN
    assert -60 < coldest < -40
    assert curve.domain_c[0] == pytest.approx(coldest, abs=0.1)
    assert curve.domain_ohm[1] <= np.exp(turn)
    assert curve.temperature_c(curve.resistance_ohm(coldest + 1)) == pytest.approx(coldest + 1)


def test_a_formula_that_turns_back_between_its_points_is_refused():
    with pytest.raises(Refused, match="falling"):
        NtcCurve(1.0e-3, 2.8e-4, -5.0e-6, span_c=(-40.0, 100.0))
    with pytest.raises(Refused, match="finite"):
        NtcCurve(float("nan"), 2.8e-4, 0.0)
    with pytest.raises(Refused, match="rising"):
        SiliconCurve(2000.0, (7.9e-3, -1e-4), (-40.0, 150.0))


@pytest.mark.parametrize(
    "wrong", [(-3600.0, 2500.0, 25.0), (3600.0, 0.0, 25.0), (3600.0, 2500.0, -300.0)]
)
def test_impossible_beta_curves_are_refused(wrong):
    with pytest.raises(Refused):
        BetaCurve(*wrong)


def test_beta_of_an_ntc_curve_between_two_temperatures():
    # By hand: ln(R25/R80)/(1/298.15 - 1/353.15).
    r25, r80 = COOLANT.resistance_ohm(np.array([25.0, 80.0]))
    by_hand = np.log(r25 / r80) / (1 / 298.15 - 1 / 353.15)
    assert COOLANT.beta_k(25.0, 80.0) == pytest.approx(by_hand, rel=1e-12)


def rows(falling: bool):
    """Random tables, strictly monotone, 2 to 12 rows, uneven gaps."""
    gaps = st.lists(st.tuples(st.floats(0.5, 60.0), st.floats(0.001, 3.0)), min_size=1, max_size=11)

    def built(data):
        celsius, ln_ohm, out = -60.0, 12.0 if falling else 3.0, []
        for gap, step in data:
            out.append((celsius, float(np.exp(ln_ohm))))
            celsius, ln_ohm = celsius + gap, ln_ohm - step if falling else ln_ohm + step
        return tuple([*out, (celsius, float(np.exp(ln_ohm)))])

    return gaps.map(built).filter(lambda points: points[-1][0] < 300)


@settings(deadline=None, max_examples=40)
@given(points=rows(falling=True) | rows(falling=False))
def test_a_table_meets_its_rows_and_never_turns_back(points):
    curve = TableCurve(points)
    celsius, ohms = np.array(points).T
    assert curve.resistance_ohm(celsius) == pytest.approx(ohms, rel=1e-9)
    assert curve.temperature_c(ohms) == pytest.approx(celsius, abs=1e-7)
    fine = np.log(curve.resistance_ohm(np.linspace(celsius[0], celsius[-1], 3_001)))
    direction = 1.0 if ohms[-1] > ohms[0] else -1.0
    assert np.all(direction * np.diff(fine) > 0)


@settings(deadline=None, max_examples=40)
@given(points=rows(falling=True), factor=st.floats(1e-2, 1e2), seed=st.integers(0, 99))
def test_a_table_scales_with_its_ohms_and_knows_no_order(points, factor, seed):
    shuffled = list(points)
    np.random.default_rng(seed).shuffle(shuffled)
    scaled = TableCurve(tuple((t, factor * r) for t, r in shuffled))
    grid = np.linspace(points[0][0], points[-1][0], 50)
    assert scaled.resistance_ohm(grid) == pytest.approx(
        factor * TableCurve(points).resistance_ohm(grid), rel=1e-9
    )


def test_a_table_that_turns_back_names_the_rows():
    with pytest.raises(Refused) as refusal:
        TableCurve(((0, 5975), (20, 2500), (40, 2600), (60, 576), (80, 580)))
    assert [remark.where for remark in refusal.value.remarks] == [
        "row at 20 degC",
        "row at 60 degC",
    ]
    with pytest.raises(Refused, match="two rows"):
        TableCurve(((20, 2500),))
    with pytest.raises(Refused) as refusal:
        TableCurve(((20, 2500), (40, -5), (-300, 9000)))
    assert [remark.where for remark in refusal.value.remarks] == ["row 2", "row 3"]


def test_a_table_beyond_its_rows_goes_on_as_beta():
    curve = TableCurve(((20, 2500), (80, 300)))
    beta = np.log(2500 / 300) / (1 / 293.15 - 1 / 353.15)
    straight = BetaCurve(beta, 2500, 20)
    grid = np.array([-30.0, 50.0, 140.0])
    assert curve.resistance_ohm(grid) == pytest.approx(straight.resistance_ohm(grid), rel=1e-12)


def test_platinum_is_continuous_at_zero_both_ways():
    around = PLATINUM.resistance_ohm(np.array([-1e-9, 0.0, 1e-9]))
    assert around == pytest.approx(1000.0, abs=1e-8)
    mixed = np.array([-200.0, -0.001, 0.0, 0.001, 850.0])
    assert PLATINUM.temperature_c(PLATINUM.resistance_ohm(mixed)) == pytest.approx(mixed, abs=1e-9)


def test_platinum_carries_the_uncertainty_of_r0():
    curve = PlatinumCurve(100.0, u_r0_ohm=0.05)
    # 0.05 ohm at 0 degC over 0.39083 ohm/K.
    assert curve.u_temperature_c(0.0) == pytest.approx(0.05 / 0.39083, rel=1e-9)


def test_platinum_classes_outside_their_range_are_refused():
    with pytest.raises(Refused, match="-100 to 450"):
        tolerance_c("A", 500.0)
    with pytest.raises(Misuse):
        tolerance_c("D", 0.0)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"kind": "cubic"}, "ntc or beta"),
        ({"kind": "ntc", "coefficients": {"a": 1e-3, "b": "x", "d": 2}}, "coefficients.d"),
        ({"kind": "beta", "coefficients": {"beta_k": 3600, "r0_ohm": 2500}}, "t0_c"),
        ({"kind": "table", "points": []}, "two rows"),
        ({"kind": "silicon", "coefficients": {"r25_ohm": 2000}}, "alpha_per_k"),
    ],
)
def test_plain_data_with_faults_is_refused_with_all_of_them(data, said):
    with pytest.raises(Refused, match=said):
        curve_from_dict(data)


def test_all_faults_of_coefficients_are_told_at_once():
    with pytest.raises(Refused) as refusal:
        curve_from_dict({"kind": "ntc", "coefficients": {"a": 1e-3, "b": "x", "d": 2}})
    assert {remark.where for remark in refusal.value.remarks} == {
        "coefficients.b",
        "coefficients.c",
        "coefficients.d",
    }
