"""Silicon sensors: the NXP KTY81 and KTY84 tables by table and by polynomial.

Sources: data/rt_index.csv (NXP KTY81_SER_5 and KTY84_SER_6, 2008, read in transcriptions that agree).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from locum.physics.curve import SiliconCurve, TableCurve
from locum.physics.fit import fit_curve
from locum.sheets.points import open_points

DATA = Path(__file__).parent / "data"
NAMES = ("kty81_210", "kty84_130", "kty84_151")


@pytest.mark.parametrize("name", NAMES)
def test_table_curve_meets_every_row_and_rises(name):
    points = open_points(DATA / f"{name}.csv")
    fit = fit_curve(kind="table", **points.fit_arguments())
    assert fit.worst_c < 1e-9
    assert fit.warnings == []
    assert np.all(np.diff(fit.curve.resistance_ohm(np.linspace(*fit.curve.span_c, 5000))) > 0)
    assert fit.curve.slope_ohm_per_k(25.0) > 0


@pytest.mark.parametrize("name", NAMES)
def test_every_second_row_is_found_from_the_others(name):
    points = open_points(DATA / f"{name}.csv")
    t, r = points.celsius, points.ohms
    table = TableCurve(tuple(zip(t[::2].tolist(), r[::2].tolist(), strict=True)))
    inner = t[1::2] < t[::2][-1]
    off = np.abs(table.temperature_c(r[1::2][inner]) - t[1::2][inner])
    # Gaps of 20 K across the knee at the hot end; whole ohms are worth up to 0.1 K.
    assert np.median(off) < 0.1
    assert off.max() < 1.0


@pytest.mark.parametrize("name", NAMES)
def test_polynomial_to_the_knee_and_over_it(name):
    points = open_points(DATA / f"{name}.csv")
    below = points.celsius <= (120 if name == "kty81_210" else 250)
    fit = fit_curve(points.celsius[below], points.ohms[below], "silicon")
    # Whole ohms (steps of 1 of about 4 to 16 ohm/K) and makers' smoothing leave this much.
    assert fit.worst_c < 0.35
    whole = fit_curve(points.celsius, points.ohms, "silicon")
    # No polynomial of five terms follows the knee: it says so and points to the table.
    assert whole.worst_c < 1.2
    assert "form_misses" in {remark.code for remark in whole.warnings}


def test_auto_takes_silicon_for_them():
    for name in NAMES:
        points = open_points(DATA / f"{name}.csv")
        assert fit_curve(kind="auto", **points.fit_arguments()).kind == "silicon"


def test_ratio_at_100_degrees_is_within_the_printed_limits():
    # Opened data sheet: R100/R25 1.676 to 1.716 for the same die; R25 1980 to 2020 ohm.
    points = open_points(DATA / "kty81_210.csv")
    fit = fit_curve(points.celsius, points.ohms, "table")
    assert 1.676 <= fit.curve.resistance_ohm(100.0) / fit.curve.resistance_ohm(25.0) <= 1.716
    assert 1980 <= fit.curve.resistance_ohm(25.0) <= 2020


def test_kty84_limits_are_a_band_around_its_typical_column():
    points = open_points(DATA / "kty84_130.csv")
    fit = fit_curve(kind="table", **points.fit_arguments())
    low, high = fit.band.limits_ohm(100.0)
    assert (low, high) == pytest.approx((970, 1030))
    # 3 % of 1000 ohm over 6.1 ohm/K is 4.9 K.
    assert fit.band.half_width_c(100.0) == pytest.approx(4.9, abs=0.2)


def test_kty84_151_is_a_scaled_130():
    # The source calls it a selection at 975 ohm: one factor for every row, within the rounding.
    one, other = (open_points(DATA / f"{name}.csv") for name in ("kty84_130", "kty84_151"))
    assert other.ohms / one.ohms == pytest.approx(np.full(len(one.ohms), 0.975), abs=0.0015)


def test_two_term_form_around_25_degrees():
    # Makers' form R = R25 (1 + alpha d + beta d^2), alpha 7.88e-3 /K, beta 1.937e-5 /K2 for this family (from memory).
    points = open_points(DATA / "kty81_210.csv")
    curve = SiliconCurve(2000.0, (7.88e-3, 1.937e-5), (-55.0, 100.0))
    warm = (points.celsius >= -40) & (points.celsius <= 100)
    assert np.abs(curve.temperature_c(points.ohms[warm]) - points.celsius[warm]).max() < 0.6
