"""Fits: exact where they can be, honest about what they miss, the same whatever the order of rows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.errors import Misuse, Refused
from locum.physics.curve import BetaCurve, NtcCurve, PlatinumCurve, SiliconCurve
from locum.physics.fit import fit_curve

COOLANT = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7, span_c=(-40.0, 140.0))
GRID_C = np.arange(-40.0, 141.0, 10.0)


def codes(fit) -> set[str]:
    return {remark.code for remark in fit.warnings}


def test_three_points_are_met_exactly():
    fit = fit_curve([0, 40, 100], [5975, 1152, 175.7])
    assert fit.kind == "ntc"
    assert fit.worst_c < 1e-9
    assert fit.curve.span_c == (0.0, 100.0)
    assert set(fit.coefficients) == {"a", "b", "c"}


def test_coefficients_come_back_from_many_exact_points():
    fit = fit_curve(GRID_C, COOLANT.resistance_ohm(GRID_C))
    assert fit.coefficients["a"] == pytest.approx(COOLANT.a, rel=1e-9)
    assert fit.coefficients["b"] == pytest.approx(COOLANT.b, rel=1e-9)
    assert fit.coefficients["c"] == pytest.approx(COOLANT.c, rel=1e-8)
    assert fit.rms_c < 1e-8


@settings(deadline=None, max_examples=25)
@given(seed=st.integers(0, 10_000), factor=st.floats(0.05, 20.0))
@pytest.mark.parametrize("kind", ["ntc", "beta", "table"])
def test_order_of_rows_and_unit_of_ohms_do_not_matter(kind, seed, factor):
    rng = np.random.default_rng(seed)
    ohms = COOLANT.resistance_ohm(GRID_C) * (1 + 0.002 * rng.normal(size=len(GRID_C)))
    order = rng.permutation(len(GRID_C))
    plain = fit_curve(GRID_C, ohms, kind)
    mixed = fit_curve(GRID_C[order], ohms[order], kind)
    at = np.linspace(-30, 130, 9)
    assert mixed.curve.resistance_ohm(at) == pytest.approx(plain.curve.resistance_ohm(at), rel=1e-7)
    scaled = fit_curve(GRID_C, factor * ohms, kind)
    if kind != "ntc":  # ln R cubed does not shift: only beta and tables scale exactly
        assert scaled.curve.resistance_ohm(at) == pytest.approx(
            factor * plain.curve.resistance_ohm(at), rel=1e-7
        )
    else:
        assert scaled.curve.temperature_c(factor * plain.curve.resistance_ohm(at)) == pytest.approx(
            at, abs=0.5
        )


def test_residuals_are_curve_minus_point():
    fit = fit_curve([0, 20, 40, 100], [5975, 2450, 1152, 175.7])
    by_hand = fit.curve.temperature_c(np.array([5975, 2450, 1152, 175.7])) - [0, 20, 40, 100]
    assert fit.residuals_c == pytest.approx(by_hand)
    assert fit.worst_c == pytest.approx(np.abs(by_hand).max())
    assert fit.rms_c == pytest.approx(np.sqrt(np.mean(by_hand**2)))


def test_least_squares_agrees_with_a_general_minimiser():
    from scipy.optimize import least_squares

    rng = np.random.default_rng(4)
    ohms = COOLANT.resistance_ohm(GRID_C) * (1 + 0.01 * rng.normal(size=len(GRID_C)))
    weights = rng.uniform(0.5, 2.0, len(GRID_C))
    fit = fit_curve(GRID_C, ohms, weights=weights)
    x, wanted = np.log(ohms), 1 / (GRID_C + 273.15)

    def misses(p):
        return (
            np.sqrt(weights) * 1e3 * (p[0] * 1e-3 + p[1] * 1e-4 * x + p[2] * 1e-7 * x**3 - wanted)
        )

    best = least_squares(misses, [1.3, 2.5, 1.5], xtol=1e-15, ftol=1e-15, gtol=1e-15).x
    assert [fit.curve.a * 1e3, fit.curve.b * 1e4, fit.curve.c * 1e7] == pytest.approx(
        best, rel=1e-6
    )


def test_a_heavy_row_is_met_better():
    ohms = COOLANT.resistance_ohm(GRID_C) * np.where(GRID_C == 60, 1.05, 1.0)
    weights = np.where(GRID_C == 60, 1e6, 1.0)
    light, heavy = fit_curve(GRID_C, ohms), fit_curve(GRID_C, ohms, weights=weights)
    at = int(np.flatnonzero(GRID_C == 60)[0])
    assert abs(heavy.residuals_c[at]) < 0.01 * abs(light.residuals_c[at])


@pytest.mark.parametrize("count", [4, 8, 12])
def test_covariance_is_that_of_drawn_readings(count):
    celsius = np.linspace(-20, 120, count)
    rng = np.random.default_rng(9)
    slope = np.abs(COOLANT.slope_ohm_per_k(celsius))
    at = np.array([-10.0, 30.0, 80.0, 110.0])
    drawn, stated = [], []
    for _ in range(250):
        ohms = COOLANT.resistance_ohm(celsius) + slope * 0.3 * rng.normal(size=count)
        curve = fit_curve(celsius, ohms, u_celsius=0.3).curve
        drawn.append(curve.temperature_c(COOLANT.resistance_ohm(at)))
        stated.append(np.sqrt(curve.u_temperature_c(at) ** 2 - curve.u_form_c**2))
    assert np.std(drawn, axis=0) == pytest.approx(np.median(stated, axis=0), rel=0.25)
    inside = np.abs(np.array(drawn) - at) <= 2 * np.array(stated)
    assert inside.mean() > 0.92


def test_rounding_of_three_exact_points_is_carried():
    fit = fit_curve([0, 40, 100], [18600, 3800, 630])
    # +-5 ohm of 630 is 0.31 K at 100 degC: rectangular, 0.18 K.
    assert fit.curve.u_temperature_c(100.0) == pytest.approx(5 / 3**0.5 / 16.06, rel=0.02)
    assert fit.curve.u_temperature_c(120.0) > fit.curve.u_temperature_c(100.0)


def test_the_misfit_of_a_form_is_kept_beside_the_covariance():
    fit = fit_curve(GRID_C, COOLANT.resistance_ohm(GRID_C), "beta")
    assert fit.curve.u_form_c == pytest.approx(
        np.sqrt(np.sum(fit.residuals_c**2) / (len(GRID_C) - 2)), rel=0.15
    )
    assert fit.curve.u_temperature_c(50.0) >= fit.curve.u_form_c
    assert "beta_far_from_points" in codes(fit)


def test_two_temperatures_give_beta_and_say_so():
    fit = fit_curve([20, 80], [2500, 300])
    assert isinstance(fit.curve, BetaCurve)
    assert fit.kind == "beta"
    assert "two_points" in codes(fit)
    assert fit.coefficients["beta_k"] == pytest.approx(
        np.log(2500 / 300) / (1 / 293.15 - 1 / 353.15)
    )


def test_a_fourth_term_only_where_the_table_demands_it():
    bent = 1 / (
        1.1867e-3
        + 1.3431e-4 * (x := np.linspace(4, 11.5, 40))
        + 1.4897e-5 * x**2
        - 4.2663e-7 * x**3
    )
    fit = fit_curve(bent - 273.15, np.exp(x))
    assert "fourth_term" in codes(fit)
    assert fit.coefficients["square"] == pytest.approx(1.4897e-5, rel=1e-4)
    few = fit_curve((bent - 273.15)[::5], np.exp(x)[::5])
    assert "square" not in few.coefficients
    assert "form_misses" in codes(few)


def test_points_that_bend_too_far_get_two_terms():
    fit = fit_curve([20, 50, 55], [2500, 900, 600])
    assert codes(fit) & {"two_terms", "unusual_shape"}
    assert fit.curve.resistance_ohm(20.0) > fit.curve.resistance_ohm(55.0)


def test_platinum_fits_r0_only():
    celsius = np.array([-50.0, 0.0, 50.0, 150.0])
    ohms = PlatinumCurve(1000.7).resistance_ohm(celsius)
    fit = fit_curve(celsius, ohms, "platinum")
    assert fit.coefficients["r0_ohm"] == pytest.approx(1000.7, rel=1e-9)
    assert fit.coefficients["a"] == 3.9083e-3
    assert fit.curve.domain_c == (-200.0, 850.0)
    assert fit_curve([25.0], [109.735], "platinum").coefficients["r0_ohm"] == pytest.approx(
        100, abs=0.01
    )
    silicon = fit_curve([0, 50, 100], [1630, 2417, 3392], "platinum")
    assert "not_platinum" in codes(silicon)


def test_silicon_takes_as_few_terms_as_needed():
    curve = SiliconCurve(2000.0, (7.88e-3, 1.937e-5), (-50.0, 125.0))
    celsius = np.linspace(-50, 125, 12)
    fit = fit_curve(celsius, curve.resistance_ohm(celsius), "silicon")
    assert fit.coefficients["alpha_per_k"] == pytest.approx(7.88e-3, rel=1e-6)
    assert "gamma_per_k3" not in fit.coefficients


@pytest.mark.parametrize(
    ("celsius", "ohms", "kind"),
    [
        ([0, 40, 100], [5975, 1152, 175.7], "ntc"),
        ([0, 100], [5975, 175.7], "beta"),
        ([0, 40, 100], [1000.0, 1155.4, 1385.1], "platinum"),
        ([0, 50, 100], [1630, 2417, 3392], "silicon"),
    ],
)
def test_auto_takes_the_kind_the_points_look_like(celsius, ohms, kind):
    assert fit_curve(celsius, ohms, "auto").kind == kind


@pytest.mark.parametrize(
    ("kind", "said"), [("ntc", "silicon"), ("beta", "rises"), ("silicon", "falls")]
)
def test_the_wrong_direction_is_refused_with_the_kind_to_take(kind, said):
    ohms = [175.7, 1152, 5975] if kind != "silicon" else [5975, 1152, 175.7]
    with pytest.raises(Refused) as refusal:
        fit_curve([0, 40, 100], ohms, kind)
    assert said in refusal.value.remarks[0].code or said in str(refusal.value)


def test_limits_give_a_centre_and_a_band():
    low, high = np.array([2270, 1059, 298.0]), np.array([2730, 1281, 322.0])
    fit = fit_curve([20, 40, 80], ohms_low=low, ohms_high=high)
    assert fit.ohms == pytest.approx(np.sqrt(low * high))
    assert fit.band is not None
    assert fit.band.limits_ohm(40.0) == pytest.approx((1059, 1281))
    between = fit.band.limits_ohm(30.0)
    assert 1059 < between[0] < between[1] < 2730
    # 2270 to 2730 at 20 degC: half of ln(high/low) over the steepness, about 2.2 K.
    assert fit.band.half_width_c(20.0) == pytest.approx(2.2, abs=0.2)
    with pytest.raises(Refused) as refusal:
        fit_curve([20, 40, 80], ohms_low=high, ohms_high=low)
    assert len(refusal.value.remarks) == 3


def test_typical_values_beside_limits_are_the_centre():
    fit = fit_curve(
        [20, 40, 80], [2500, 1152, 309], ohms_low=[2270, 1059, 298], ohms_high=[2730, 1281, 322]
    )
    assert fit.ohms.tolist() == [2500, 1152, 309]
    assert fit.band is not None


def test_a_table_says_what_interpolation_costs():
    fit = fit_curve(GRID_C, COOLANT.resistance_ohm(GRID_C), "table")
    assert fit.worst_c < 1e-9
    assert fit.left_out_c is not None
    assert 0 < fit.left_out_c < 0.05


def test_the_same_temperature_twice_is_averaged_in_a_table():
    fit = fit_curve([20, 20, 80], [2400, 2600, 300], "table")
    assert "same_temperature" in codes(fit)
    assert fit.curve.resistance_ohm(20.0) == pytest.approx((2400 * 2600) ** 0.5)


@pytest.mark.parametrize(
    ("celsius", "ohms", "wheres"),
    [
        ([20, 40, 80], [2500, 0, -3], ["row 2", "row 3"]),
        ([20, 900, 80], [2500, 1100, float("nan")], ["row 2", "row 3"]),
        ([], [], ["points"]),
    ],
)
def test_unusable_rows_are_refused_all_at_once(celsius, ohms, wheres):
    with pytest.raises(Refused) as refusal:
        fit_curve(celsius, ohms)
    assert [remark.where for remark in refusal.value.remarks][: len(wheres)] == wheres


def test_labels_name_the_rows_of_a_file():
    with pytest.raises(Refused) as refusal:
        fit_curve([20, 40], [2500, -1], labels=["line 2", "line 5"])
    assert refusal.value.remarks[0].where == "line 5"


def test_wrong_calls_are_misuse():
    for call in (
        lambda: fit_curve([20, 40], [2500, 1000], "cubic"),
        lambda: fit_curve([20, 40], [2500]),
        lambda: fit_curve([20, 40]),
        lambda: fit_curve([20, 40], [2500, 1000], weights=[1.0, -1.0]),
        lambda: fit_curve([20, 40], [2500, 1000], u_celsius=0.0),
    ):
        with pytest.raises(Misuse):
            call()


def test_the_json_of_a_fit_has_the_promised_fields():
    import json

    data = json.loads(json.dumps(fit_curve([0, 40, 100], [5975, 1152, 175.7]).to_dict()))
    assert {"kind", "coefficients", "rms_c", "worst_c", "residuals_c", "warnings"} <= set(data)
