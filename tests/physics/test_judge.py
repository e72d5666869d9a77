"""Judging points: each defect found and said with its row; good tables left alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.errors import Refused
from locum.physics.curve import BetaCurve, NtcCurve
from locum.physics.fit import fit_curve
from locum.physics.judge import point_remarks, row_labels, use_remarks
from locum.physics.outliers import outliers, turning_rows
from locum.physics.rounding import quantum_ohm

CELSIUS = np.array([-20.0, 0, 20, 40, 60, 80, 100, 120])
CURVE = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7)
OHMS = np.array([15980.0, 5975, 2501, 1152, 575.7, 308.6, 175.7, 105.4])


def told(celsius, ohms) -> dict[str, str]:
    remarks = point_remarks(
        np.asarray(celsius, float), np.asarray(ohms, float), row_labels(len(celsius))
    )
    return {remark.code: remark.where for remark in remarks}


def test_a_good_table_is_left_alone():
    assert told(CELSIUS, OHMS) == {}
    assert fit_curve(CELSIUS, OHMS).warnings == []


@pytest.mark.parametrize("index", range(8))
def test_a_row_that_turns_back_is_named(index):
    ohms = OHMS.copy()
    ohms[index] = ohms[index - 1] * 1.3 if index else ohms[1] * 0.8
    found = told(CELSIUS, ohms)
    assert found["turns_back"].startswith(f"row {index + 1} ")


@pytest.mark.parametrize("index", range(1, 7))
@pytest.mark.parametrize("factor", [0.88, 1.12])
def test_a_slip_of_a_digit_is_named_as_outlier(index, factor):
    ohms = OHMS.copy()
    ohms[index] *= factor
    found = told(CELSIUS, ohms)
    assert found["outlier"].startswith(f"row {index + 1} ")


def test_an_outlier_is_told_with_what_the_others_expect():
    ohms = OHMS.copy()
    ohms[3] = 1252
    fit = fit_curve(CELSIUS, ohms)
    (remark,) = (r for r in fit.warnings if r.code == "outlier")
    expected = float(remark.wanted.split()[1])
    assert expected == pytest.approx(1152, rel=0.01)
    assert "K off" in remark.found


def test_one_row_in_kilohm_is_called_that():
    ohms = OHMS.copy()
    ohms[1] = 5.975
    found = fit_or_refusal(CELSIUS, ohms)
    assert any("kilohm" in remark.remedy and "row 2" in remark.where for remark in found)


def fit_or_refusal(celsius, ohms):
    try:
        return fit_curve(celsius, ohms).warnings
    except Refused as refusal:
        return refusal.remarks


def test_fahrenheit_read_as_celsius_is_suspected():
    found = told(CELSIUS * 1.8 + 32, OHMS)
    assert "looks_like_fahrenheit" in found
    assert "looks_like_fahrenheit" not in told(CELSIUS, OHMS)


def test_fahrenheit_beyond_any_sensor_is_refused_with_the_reason():
    celsius = np.linspace(0, 300, 10)
    with pytest.raises(Refused) as refusal:
        fit_curve(celsius * 1.8 + 32, CURVE.resistance_ohm(celsius))
    assert refusal.value.remarks[-1].code == "looks_like_fahrenheit"


def test_kelvin_read_as_celsius_is_suspected():
    found = fit_or_refusal(CELSIUS[1:] + 273.15, OHMS[1:])
    assert any(remark.code == "looks_like_kelvin" for remark in found)


def test_kilohm_read_as_ohm_is_suspected():
    assert "looks_like_kohm" in told(CELSIUS, OHMS / 1000)
    assert "looks_like_kohm" not in told(CELSIUS, OHMS)
    assert set(told([0, 25, 50, 100], [1.63, 2.0, 2.417, 3.392])) == {"looks_like_kohm"}
    assert told([0, 25, 50, 100], [100.0, 109.73, 119.4, 138.51]) == {}


@pytest.mark.parametrize("kind", ["ntc", "table", "auto"])
def test_swapped_columns_are_named(kind):
    found = fit_or_refusal(OHMS, CELSIUS + 30)
    assert any(remark.code == "looks_swapped" for remark in found)
    # A 200 ohm sensor: both columns could be either at first sight.
    found = fit_or_refusal(np.array([245.8, 112.0, 56.3, 30.5]), np.array([20.0, 40, 60, 80]))
    assert any(remark.code == "looks_swapped" for remark in found)


@settings(deadline=None, max_examples=60)
@given(
    beta=st.floats(3300, 4300),
    r25=st.floats(200, 2e5),
    climb=st.floats(0.02, 0.12),
    start=st.integers(-4, 2),
)
def test_usual_sensors_are_never_suspected_of_a_wrong_unit(beta, r25, climb, start):
    celsius = np.arange(10.0 * start, 10.0 * start + 101, 10.0)
    inverse = 1 / (celsius + 273.15)
    middle = inverse - 1 / 298.15
    # Beta climbs with temperature: the slope of ln R falls with 1/T.
    ln = np.log(r25) + beta * middle - 0.5 * climb / 100 * beta * 298.15**2 * middle**2
    suspected = {c for c in told(celsius, np.exp(ln)) if c.startswith("looks_")}
    assert suspected == set()


def test_coarse_rounding_is_told_with_its_worth():
    celsius = [-40, -20, 0, 20, 40, 60, 80, 100, 120]
    ohms = [52150, 16520, 6000, 2450, 1110, 540, 290, 160, 100]
    fit = fit_curve(celsius, ohms)
    (remark,) = (r for r in fit.warnings if r.code == "coarse_rounding")
    assert "row 9 (120 degC)" in remark.where
    # 10 ohm steps: half a step over the slope, about 2.3 ohm/K, is 2.2 K.
    assert "+-2.2 K" in remark.found


@pytest.mark.parametrize(
    ("ohms", "step"),
    [
        ([5975, 1152, 175.7], [1, 1, 0.1]),
        ([52150, 16520, 6000, 2450, 540, 290, 100], [10, 10, 10, 10, 10, 10, 10]),
        ([333600, 241100, 12490, 10000, 678.1, 577.2], [100, 100, 10, 10, 0.1, 0.1]),
        ([118718, 91374, 4901, 49], [1, 1, 1, 1]),
    ],
)
def test_rounding_step_of_a_table(ohms, step):
    assert quantum_ohm(ohms) == pytest.approx(step)


def test_fewest_rows_are_blamed_for_turning_back():
    t = np.arange(6.0)
    assert turning_rows(t, np.array([9, 7, 8, 5, 4, 3.0])) in ([1], [2])
    assert turning_rows(t, np.array([1, 2, 3, 9, 4, 5.0])) == [3]
    assert turning_rows(t, np.array([6, 5, 4, 3, 2, 1.0])) == []
    assert len(turning_rows(t, np.array([5, 5, 4, 3, 2, 1.0]))) == 1


def test_two_outliers_are_both_found():
    celsius = np.arange(-40.0, 141.0, 10.0)
    ohms = CURVE.resistance_ohm(celsius)
    ohms[4] *= 1.15
    ohms[13] *= 0.85
    found = outliers(celsius, ohms, np.zeros_like(ohms))
    assert {odd.index for odd in found} == {4, 13}


def test_beta_used_far_from_its_points_is_warned_about_with_its_size():
    curve = BetaCurve(3619.4, 2059.0, 25.0, (25.0, 80.0))
    assert use_remarks(curve, [30.0, 70.0]) == []
    assert {r.code for r in use_remarks(curve, 100.0)} == {"outside_points"}
    remarks = {r.code: r for r in use_remarks(curve, [-40.0])}
    assert "65 K beyond" in remarks["beta_far_from_points"].found
    # By hand: this beta errs by 3.2 K at -40 degC; the usual sensor's figure is of that order.
    said = float(remarks["beta_far_from_points"].found.split("about ")[1].split()[0])
    assert 1.5 < said < 6.0


def test_beta_over_a_wide_table_is_warned_about():
    fit = fit_curve(CELSIUS, OHMS, "beta")
    assert "beta_far_from_points" in {remark.code for remark in fit.warnings}


@pytest.mark.parametrize("index", [3, 9, 15])
def test_an_outlier_in_a_rising_table_is_named(index):
    celsius = np.arange(-40.0, 151.0, 10.0)
    d = celsius - 25
    ohms = np.round(2000 * (1 + 7.88e-3 * d + 1.937e-5 * d**2))
    assert told(celsius, ohms) == {}
    ohms[index] *= 1.03
    assert told(celsius, ohms)["outlier"].startswith(f"row {index + 1} ")
