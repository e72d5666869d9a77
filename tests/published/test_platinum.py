"""Platinum: every printed row of the IEC 60751 tables, on both sides of 0 degC, and its tolerance classes.

Sources: data/pt100_iec60751.csv, data/pt1000_iec60751.csv (column source), data/callendar_van_dusen.toml.
"""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path

import numpy as np
import pytest

from locum.errors import Refused
from locum.physics.curve import PlatinumCurve, tolerance_c
from locum.physics.fit import fit_curve

DATA = Path(__file__).parent / "data"
GIVEN = tomllib.loads((DATA / "callendar_van_dusen.toml").read_text())


def table(name: str) -> tuple[np.ndarray, np.ndarray]:
    with (DATA / name).open(newline="") as file:
        rows = [(float(row["t_c"]), float(row["r_ohm"])) for row in csv.DictReader(file)]
    celsius, ohms = np.array(rows).T
    return celsius, ohms


@pytest.mark.parametrize(("name", "r0", "half_a_step"), [("pt100_iec60751.csv", 100.0, 0.005),
                                                         ("pt1000_iec60751.csv", 1000.0, 0.0005)])  # fmt: skip
def test_every_printed_row(name, r0, half_a_step):
    celsius, ohms = table(name)
    curve = PlatinumCurve(r0)
    assert celsius.min() == -200
    assert celsius.max() == 850
    assert np.abs(curve.resistance_ohm(celsius) - ohms).max() <= half_a_step * 1.001
    slope = curve.slope_ohm_per_k(celsius)
    assert np.all(np.abs(curve.temperature_c(ohms) - celsius) <= half_a_step * 1.01 / slope)


def test_coefficients_are_the_standards():
    standard, curve = GIVEN["iec60751"], PlatinumCurve()
    assert (curve.a, curve.b, curve.c) == (
        standard["a_per_c"],
        standard["b_per_c2"],
        standard["c_per_c4"],
    )
    assert curve.domain_c == (standard["t_min_c"], standard["t_max_c"])
    for beyond in (-201.0, 851.0):
        with pytest.raises(Refused):
            curve.resistance_ohm(beyond)


def test_alpha_between_0_and_100_degrees():
    # alpha 0.003851: (R100 - R0)/(100 R0), by the standard's own definition.
    curve = PlatinumCurve(100.0)
    assert (curve.resistance_ohm(100.0) - 100.0) / 1e4 == pytest.approx(0.003851, abs=5e-7)


def test_the_american_curve_by_its_coefficients():
    # R100/R0 of 1.3925 belongs to alpha 0.003925 (from memory; the coefficients are given).
    given = GIVEN["american_curve"]
    curve = PlatinumCurve(100.0, a=given["a_per_c"], b=given["b_per_c2"], c=given["c_per_c4"])
    assert curve.resistance_ohm(100.0) == pytest.approx(139.24, abs=0.02)


def test_tolerance_class_a_as_printed_and_b_by_its_formula():
    for celsius, kelvin in GIVEN["iec60751_tolerance"]["check_class_a"]:
        if celsius <= 450:  # the present standard ends class A there for wire-wound elements
            assert tolerance_c("A", float(celsius)) == pytest.approx(kelvin, abs=1e-9)
    assert tolerance_c("B", np.array([-100.0, 0.0, 100.0])).tolist() == pytest.approx(
        [0.8, 0.3, 0.8]
    )
    assert (
        tolerance_c("AA", 100.0)
        < tolerance_c("A", 100.0)
        < tolerance_c("B", 100.0)
        < tolerance_c("C", 100.0)
    )


def test_class_b_in_ohms_at_zero_and_a_hundred():
    # Class B of a Pt100 is 0.12 ohm at 0 degC and 0.30 ohm at 100 degC (common practice).
    curve = PlatinumCurve(100.0)
    for celsius, ohm in ((0.0, 0.12), (100.0, 0.30)):
        assert tolerance_c("B", celsius) * curve.slope_ohm_per_k(celsius) == pytest.approx(
            ohm, abs=0.005
        )


@pytest.mark.parametrize(
    ("name", "r0"), [("pt100_iec60751.csv", 100.0), ("pt1000_iec60751.csv", 1000.0)]
)
def test_fit_finds_r0_in_the_printed_table(name, r0):
    celsius, ohms = table(name)
    for kind in ("platinum", "auto"):
        fit = fit_curve(celsius, ohms, kind)
        assert fit.kind == "platinum"
        assert fit.coefficients["r0_ohm"] == pytest.approx(r0, rel=2e-5)
        assert fit.worst_c < 0.02
        assert fit.warnings == []


def test_a_printed_slip_is_found():
    # One published reference table prints 35.34 ohm at -160 degC; the equation gives 35.54.
    celsius, ohms = table("pt100_iec60751.csv")
    celsius, ohms = np.append(celsius, -160.0), np.append(ohms, 35.34)
    fit = fit_curve(celsius, ohms, "platinum")
    worst = int(np.argmax(np.abs(fit.residuals_c)))
    assert celsius[worst] == -160
    assert PlatinumCurve().resistance_ohm(-160.0) == pytest.approx(35.54, abs=0.005)
