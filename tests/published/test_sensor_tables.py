"""Every published R/T table: fitted within its stated residual, and never suspected of a fault it has not.

Sources: data/rt_index.csv names one for each table; data/three_point_sets.csv in its column; coefficients in
data/steinhart_hart_examples.toml. Curves A and B: service tables of Kia/Hyundai (transmission fluid) and Jeep Compass 2021 (coolant).
"""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import numpy as np
import pytest

from locum.physics.curve import BetaCurve, NtcCurve, TableCurve, beta_between_k
from locum.physics.fit import fit_curve
from locum.sheets.points import open_points

DATA = Path(__file__).parent / "data"


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(newline="") as file:
        return list(csv.DictReader(file))


INDEX = {row["table_id"]: row for row in rows("rt_index.csv")}
NTC = [name for name, row in INDEX.items() if row["kind"] == "NTC"]
FITTED = [name for name in NTC if INDEX[name]["sh3_max_abs_resid_c_full"]]
EXAMPLES = tomllib.loads((DATA / "steinhart_hart_examples.toml").read_text())
SETS = {row["set_id"]: row for row in rows("three_point_sets.csv")}

# rt_index.csv prints three decimals; half the last one is granted.
PRINTED_C = 0.0005

CURVE_A = NtcCurve(9.20113738e-4, 2.68650219e-4, 1.05038939e-7)
CURVE_B = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7)


@pytest.mark.parametrize("name", FITTED)
def test_table_is_fitted_within_its_stated_residual(name):
    points = open_points(DATA / f"{name}.csv")
    fit = fit_curve(**points.fit_arguments())
    assert fit.worst_c <= float(INDEX[name]["sh3_max_abs_resid_c_full"]) + PRINTED_C
    if "square" in fit.coefficients:
        assert "fourth_term" in {remark.code for remark in fit.warnings}


@pytest.mark.parametrize("name", FITTED)
def test_middle_of_the_table_is_fitted_within_its_stated_residual(name):
    points = open_points(DATA / f"{name}.csv")
    chosen = (points.celsius >= -10) & (points.celsius <= 125)
    columns = {
        key: None if value is None or key == "labels" else value[chosen]
        for key, value in points.fit_arguments().items()
    }
    fit = fit_curve(**columns)
    assert fit.worst_c <= float(INDEX[name]["sh3_max_abs_resid_c_m10_125"]) + PRINTED_C


@pytest.mark.parametrize("name", NTC)
def test_no_published_table_is_suspected(name):
    points = open_points(DATA / f"{name}.csv")
    for kind in ("auto", "table"):
        fit = fit_curve(kind=kind, **points.fit_arguments())
        suspected = {remark.code for remark in fit.warnings}
        allowed = {"coarse_rounding", "fourth_term", "form_misses", "unusual_shape", "two_points"}
        assert suspected <= allowed
        assert np.all(np.diff(fit.curve.resistance_ohm(np.linspace(*fit.curve.span_c, 2000))) < 0)


@pytest.mark.parametrize("name", [name for name in NTC if int(INDEX[name]["points"]) >= 8])
@pytest.mark.parametrize("in_kohm", [False, True])
def test_a_published_table_in_another_unit_is_found_out(name, in_kohm):
    points = open_points(DATA / f"{name}.csv")
    ohms = points.ohms if points.ohms is not None else np.sqrt(points.ohms_low * points.ohms_high)
    usable = (
        points.celsius < 190
    )  # hotter rows are beyond the domain when read as degC, and refused
    if not in_kohm:
        fit = fit_curve(points.celsius[usable] * 1.8 + 32, ohms[usable], "table")
        found = "looks_like_fahrenheit" in {remark.code for remark in fit.warnings}
        # Whole-degree rows bend the other way and hide it in one table: beta 3207 K climbing 16 % could
        # be a sensor, and only a header that names the unit can tell.
        assert found == (name != "ntc_10k_firmware4")
    elif ohms[np.argmin(np.abs(points.celsius - 25))] < 20_000:
        fit = fit_curve(points.celsius[usable], ohms[usable] / 1000, "table")
        assert "looks_like_kohm" in {remark.code for remark in fit.warnings}


@pytest.mark.parametrize("name", ["ntc_material1_ratio_b3977", "ntc_2252_b3935", "ntc_fluid_m8_10k",
                                  "ntc_10k3mcd1_cold", "ntc_100k_firmware99"])  # fmt: skip
def test_interpolation_finds_every_second_row_from_the_others(name):
    points = open_points(DATA / f"{name}.csv")
    t, r = points.celsius, points.ohms
    table = TableCurve(tuple(zip(t[::2].tolist(), r[::2].tolist(), strict=True)))
    inside = (t[1::2] > t[0]) & (t[1::2] < t[::2][-1])
    off = np.abs(table.temperature_c(r[1::2][inside]) - t[1::2][inside])
    # Row gaps of 10 to 30 K, rows printed to three or four figures.
    assert off.max() < 0.06


@pytest.mark.parametrize("name", SETS)
def test_three_point_sets_give_their_coefficients(name):
    row = SETS[name]
    celsius = [float(row[f"t{i}_c"]) for i in (1, 2, 3)]
    ohms = [float(row[f"r{i}_ohm"]) for i in (1, 2, 3)]
    fit = fit_curve(celsius, ohms)
    for key in ("a", "b", "c"):
        assert fit.coefficients[key] == pytest.approx(float(row[f"sh_{key}"]), rel=1e-7)
    assert beta_between_k(celsius[0], ohms[0], celsius[1], ohms[1]) == pytest.approx(
        float(row["beta_12_k"]), abs=0.06
    )
    assert beta_between_k(celsius[1], ohms[1], celsius[2], ohms[2]) == pytest.approx(
        float(row["beta_23_k"]), abs=0.06
    )
    # The one whose beta falls is called unusual, as its own note does.
    assert ("unusual_shape" in {r.code for r in fit.warnings}) == (name == "ecu_g")


def test_published_coefficients_give_their_pairs_10k_bead():
    # Campbell Scientific 109SS manual, Table C-1 and section 8.2.
    bead = EXAMPLES["bead_10k"]
    curve = NtcCurve(bead["a"], bead["b"], bead["c"])
    for celsius, ohm in bead["pairs_check"]:
        assert curve.temperature_c(float(ohm)) == pytest.approx(
            celsius, abs=bead["max_abs_error_c_over_pairs"]
        )
    assert curve.resistance_ohm(25.0) == pytest.approx(bead["r25_from_coefficients_ohm"], abs=0.01)
    assert curve.resistance_ohm(100.0) == pytest.approx(
        bead["r100_from_coefficients_ohm"], abs=0.001
    )
    table = open_points(DATA / "ntc_10k3mcd1_cold.csv")
    assert np.abs(curve.temperature_c(table.ohms) - table.celsius).max() < 0.003
    fit = fit_curve(table.celsius, table.ohms)
    assert fit.coefficients["a"] == pytest.approx(bead["a"], rel=2e-4)
    assert fit.coefficients["b"] == pytest.approx(bead["b"], rel=2e-4)


def test_published_coefficients_100k_bead():
    # Campbell Scientific 108 manual, Table 8-2.
    bead = EXAMPLES["bead_100k"]
    curve = NtcCurve(bead["a"], bead["b"], bead["c"])
    assert curve.temperature_c(1e5) == pytest.approx(bead["t_at_100k_c"], abs=1e-4)


def test_four_published_coefficients_and_their_pairs():
    # Amphenol Thermometrics guide, Material Type 1: 1/T = a + b x + c x^2 + d x^3, x = ln(Rt/R25).
    given = EXAMPLES["material1_four_coefficients"]
    a, b, c, d = (given[key] for key in "abcd")
    shift = float(np.log(10_000.0))
    # The same polynomial in ln R, by hand.
    curve = NtcCurve(
        a - b * shift + c * shift**2 - d * shift**3,
        b - 2 * c * shift + 3 * d * shift**2,
        d,
        c - 3 * d * shift,
        span_c=(-40.0, 135.0),
    )
    table = open_points(DATA / "ntc_material1_ratio_b3977.csv")
    off = np.abs(curve.temperature_c(table.ohms) - table.celsius)
    assert off.max() <= given["max_abs_error_c_over_pairs"] + 1e-3
    back = curve.resistance_ohm(table.celsius)
    inverse = 1 / (table.celsius + 273.15)
    published = 1e4 * np.exp(
        given["A"] + given["B"] * inverse + given["C"] * inverse**2 + given["D"] * inverse**3
    )
    # The printed forms differ by up to 0.014 K, which at -40 degC is 0.1 % of the resistance.
    assert np.abs(back / published - 1).max() < 1e-3


@pytest.mark.parametrize("row", EXAMPLES["material1_beta"]["rows"], ids=str)
def test_beta_climbs_as_printed(row):
    first, second, ratio, beta = row
    # Printed to two or three figures: within 4 K, as the source's note says.
    assert beta_between_k(first, ratio, second, 1.0) == pytest.approx(beta, abs=4.5)


def test_beta_curve_of_the_printed_alpha():
    # EPCOS / Siemens Matsushita introduction, curve 1006: alpha 4.4 %/K at 5 degC is beta = alpha T^2.
    given = EXAMPLES["alpha_interpolation"]
    beta = given["alpha_at_5c_percent_per_k"] / 100 * 278.15**2
    curve = BetaCurve(beta, given["r_at_5c_ohm"], 5.0)
    assert curve.resistance_ohm(7.0) == pytest.approx(given["r_at_7c_ohm"], abs=0.6)


def test_curve_b_through_three_rows():
    # Jeep Compass 2021 coolant table, rows 0, 40, 100 degC; computed to nine digits independently.
    fit = fit_curve([0, 40, 100], [5975, 1152, 175.7])
    assert fit.coefficients["a"] == pytest.approx(1.33514771e-3, rel=4e-9)
    assert fit.coefficients["b"] == pytest.approx(2.56168319e-4, rel=4e-9)
    assert fit.coefficients["c"] == pytest.approx(1.49630613e-7, rel=3e-8)
    assert fit.curve.resistance_ohm(80.0) == pytest.approx(308.556, abs=5e-4)
    # Other rows of the table as quoted: 308.6, 231, 105 and 66 ohm at 80, 90, 120, 140 degC.
    assert fit.curve.temperature_c(308.6) == pytest.approx(80.0, abs=0.05)
    for celsius, ohm in ((90, 231), (120, 105), (140, 66)):
        half_a_step = 0.5 / abs(fit.curve.slope_ohm_per_k(float(celsius)))
        assert fit.curve.temperature_c(float(ohm)) == pytest.approx(celsius, abs=half_a_step + 0.05)


def test_beta_of_curve_b_and_where_it_errs():
    # Independently computed from the table's rows: 3619.39 K, errors +3.22, -0.28, +0.54, +2.42 K. The row at
    # 25 degC is not quoted; 2044 ohm is the whole number that gives that beta with 308.6 ohm at 80.
    assert beta_between_k(25.0, 2044.0, 80.0, 308.6) == pytest.approx(3619.39, abs=0.005)
    assert CURVE_B.temperature_c(2044.0) == pytest.approx(25.0, abs=0.05)
    curve = fit_curve([25, 80], [2044.0, 308.6], "beta").curve
    # The fitted curve stands in for the rows, which it meets within 0.05 K.
    for celsius, err in ((-40.0, 3.22), (50.0, -0.28), (100.0, 0.54), (140.0, 2.42)):
        off = curve.temperature_c(CURVE_B.resistance_ohm(celsius)) - celsius
        assert off == pytest.approx(err, abs=0.06)


def test_curve_a_through_three_rows():
    # Kia/Hyundai transmission fluid sensor, rows 0, 40, 100 degC.
    fit = fit_curve([0, 40, 100], [18600, 3800, 630])
    assert fit.coefficients["a"] == pytest.approx(9.20113738e-4, rel=4e-9)
    assert fit.coefficients["b"] == pytest.approx(2.68650219e-4, rel=4e-9)
    assert fit.coefficients["c"] == pytest.approx(1.05038939e-7, rel=3e-8)
    assert fit.curve.resistance_ohm(90.0) == pytest.approx(818.23, abs=5e-3)
    assert fit.curve.slope_ohm_per_k(90.0) == pytest.approx(-21.937, abs=5e-4)
    # Its row of 380 ohm at 120 degC reads 0.87 K off, of which the rounding to 10 ohm explains 0.56.
    assert fit.curve.temperature_c(380.0) - 120 == pytest.approx(0.87, abs=0.005)
    assert 5 / abs(fit.curve.slope_ohm_per_k(120.0)) == pytest.approx(0.56, abs=0.005)


# Table of R and |dR/dT| of both curves at whole temperatures, computed independently.
SLOPES = [
    (-20, 48442, 2476, 15976, 836), (0, 18600, 833, 5975, 276), (20, 8012, 317, 2501, 102.6),
    (40, 3800, 133.6, 1152, 42.2), (60, 1955, 61.4, 575.7, 18.9), (80, 1077, 30.4, 308.6, 9.13),
    (100, 630, 16.06, 175.7, 4.71), (120, 388, 8.96, 105.4, 2.57),
]  # fmt: skip


@pytest.mark.parametrize(("celsius", "r_a", "s_a", "r_b", "s_b"), SLOPES)
def test_resistance_and_slope_table(celsius, r_a, s_a, r_b, s_b):
    for curve, ohm, slope in ((CURVE_A, r_a, s_a), (CURVE_B, r_b, s_b)):
        assert curve.resistance_ohm(float(celsius)) == pytest.approx(ohm, rel=6e-4, abs=0.5)
        assert -curve.slope_ohm_per_k(float(celsius)) == pytest.approx(slope, rel=3e-3)


def test_one_step_of_a_pot_in_kelvin():
    # 39.06 ohm (10 kohm over 256) at 100 degC: 2.43 K on curve A, 8.30 K on curve B.
    assert 39.0625 / -CURVE_A.slope_ohm_per_k(100.0) == pytest.approx(2.43, abs=0.005)
    assert 39.0625 / -CURVE_B.slope_ohm_per_k(100.0) == pytest.approx(8.30, abs=0.01)


def test_a_tolerance_of_resistance_as_temperature():
    # Mitsubishi Airtrek 2005, A/T fluid sensor: 1.0 to 1.2 kohm at 80 degC is 82.7 to 76.2 degC on
    # curve A; 0.57-0.69 kohm at 100 degC 104.0..96.5; 7.3-8.9 kohm at 20 degC 22.4..17.4.
    limits = fit_curve([20, 80, 100], ohms_low=[7300, 1000, 570], ohms_high=[8900, 1200, 690])
    for ohm, celsius in (
        (1000, 82.7),
        (1200, 76.2),
        (570, 104.0),
        (690, 96.5),
        (7300, 22.4),
        (8900, 17.4),
    ):
        assert CURVE_A.temperature_c(float(ohm)) == pytest.approx(celsius, abs=0.1)
    assert limits.band.half_width_c(80.0) == pytest.approx(3.25, abs=0.2)


@pytest.mark.parametrize("name", ["coolant_2k45_pullup1k", "coolant_2k5_limits", "coolant_two_point_a",
                                  "coolant_three_point_a"])  # fmt: skip
def test_limits_tables_hold_their_centre(name):
    points = open_points(DATA / f"{name}.csv")
    fit = fit_curve(kind="auto", **points.fit_arguments())
    grid = np.linspace(*fit.band.span_c, 300)
    low, high = fit.band.limits_ohm(grid)
    assert np.all(low < high)
    inside = (low < fit.curve.resistance_ohm(grid)) & (fit.curve.resistance_ohm(grid) < high)
    # The rows are uneven: 670 ohm at 60 degC beside 1300 at 40 leaves the smooth centre just outside.
    assert inside.mean() > 0.95
