"""Uncertainty examples: JCGM 100 H.3, EA-4/02 S3, a pot's budget at 90 degC, and the ratiometric reading.

Sources: data/uncertainty_examples.toml (each section names its own); the pot's budget was worked out independently, with a Monte Carlo run
of 200,000 draws: u = 0.759 K, 95 % interval 88.58 to 91.48 degC.
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from uncertainties import ufloat, umath

from locum.physics.budget import Contribution, temperature_budget
from locum.physics.circuit import Thevenin, resistance_from_node_ohm, u_resistance_from_node_ohm
from locum.physics.curve import NtcCurve
from locum.physics.propagation import combined_u, fitted_line

GIVEN = tomllib.loads((Path(__file__).parent / "data" / "uncertainty_examples.toml").read_text())
CURVE_A = NtcCurve(9.20113738e-4, 2.68650219e-4, 1.05038939e-7)

POT_AT_90 = [
    Contribution("meter 0.5 % and 2 digits", half_width=6.09),
    Contribution("quantisation, half a step of 39.06 ohm", half_width=19.53),
    Contribution("non-linearity after calibration", half_width=2.0),
    Contribution("wiper against supply and temperature", half_width=20.0),
    Contribution("temperature coefficient 150 ppm/K x 20 K", half_width=2.45),
    Contribution("leads and relay", half_width=0.3),
]
FIT = Contribution("curve fit", half_width=0.3, unit="K", part="curve")
TOLERANCE = Contribution("table tolerance 10 %", half_width=0.1, unit="relative", part="tolerance")


def test_gum_h3_thermometer_line():
    h3 = GIVEN["gum_h3_thermometer_line"]
    line = fitted_line(h3["t_c"], h3["b_c"], h3["t0_c"])
    assert line.y1 == pytest.approx(h3["y1_c"], abs=5e-5)
    assert line.y2 == pytest.approx(h3["y2"], abs=5e-6)
    assert math.sqrt(line.covariance[0, 0]) == pytest.approx(h3["u_y1_c"], abs=5e-5)
    assert math.sqrt(line.covariance[1, 1]) == pytest.approx(h3["u_y2"], abs=5e-6)
    assert line.correlation == pytest.approx(h3["correlation"], abs=5e-4)
    assert line.s == pytest.approx(h3["s_c"], abs=5e-5)
    value, u = line.at(30.0)
    assert value == pytest.approx(h3["correction_at_30c"], abs=5e-5)
    assert u == pytest.approx(h3["u_correction_at_30c"], abs=5e-5)


def test_ea_4_02_s3_standard_resistor():
    s3 = GIVEN["ea402_s3_resistor_10k"]
    parts = {
        "r_s": (s3["r_s_ohm"], s3["u_r_s_ohm"]),
        "dr_d": (s3["dr_d_ohm"], Contribution("d", s3["half_width_dr_d_ohm"]).u),
        "dr_ts": (s3["dr_ts_ohm"], Contribution("ts", s3["half_width_dr_ts_ohm"]).u),
        "r_c": (s3["r_c"], Contribution("c", s3["half_width_r_c"], distribution="triangular").u),
        "r": (s3["r"], s3["u_r"]),
        "dr_tx": (s3["dr_tx_ohm"], Contribution("tx", s3["half_width_dr_tx_ohm"]).u),
    }
    value = {name: part[0] for name, part in parts.items()}
    standard = value["r_s"] + value["dr_d"] + value["dr_ts"]
    r_x = standard * value["r_c"] * value["r"] - value["dr_tx"]
    gain = value["r_c"] * value["r"]
    sensitivities = [gain, gain, gain, standard * value["r"], standard * value["r_c"], -1.0]
    u = combined_u(sensitivities, [part[1] for part in parts.values()])
    assert r_x == pytest.approx(s3["r_x_ohm"], abs=5e-4)
    assert u == pytest.approx(s3["u_r_x_ohm"], abs=5e-6)
    assert round(s3["k"] * u, 3) == s3["expanded_ohm"]
    assert parts["dr_d"][1] == pytest.approx(5.8e-3, abs=5e-5)
    assert parts["r_c"][1] == pytest.approx(0.41e-6, abs=5e-9)


def test_pot_budget_at_90_degrees():
    budget = temperature_budget(CURVE_A, 90.0, POT_AT_90)
    assert [row.u_ohm for row in budget.rows] == pytest.approx(
        [3.52, 11.28, 1.15, 11.55, 1.42, 0.17], abs=0.01
    )
    assert [row.u_c for row in budget.rows] == pytest.approx(
        [0.160, 0.514, 0.053, 0.526, 0.065, 0.008], abs=1e-3
    )
    assert budget.u_ohm == pytest.approx(16.62, abs=0.005)
    assert budget.u_c == pytest.approx(0.758, abs=5e-4)
    assert budget.expanded_c == pytest.approx(1.52, abs=5e-3)


def test_pot_budget_with_curve_and_with_tolerance():
    budget = temperature_budget(CURVE_A, 90.0, [*POT_AT_90, FIT, TOLERANCE])
    assert budget.u_resistance_c == pytest.approx(0.758, abs=5e-4)
    assert budget.u_c == pytest.approx(0.777, abs=5e-4)
    assert budget.expanded_c == pytest.approx(1.55, abs=6e-3)
    assert budget.rows[-1].u_ohm == pytest.approx(47.2, abs=0.05)
    assert budget.rows[-1].u_c == pytest.approx(2.153, abs=1e-3)
    assert budget.u_with_tolerance_c == pytest.approx(2.289, abs=1e-3)
    assert budget.expanded_with_tolerance_c == pytest.approx(4.58, abs=5e-3)


def test_pot_budget_with_finer_steps():
    # With 2 ohm effective steps U falls to 1.12 K and the wiper dominates.
    fine = [POT_AT_90[0], Contribution("quantisation", half_width=1.0), *POT_AT_90[2:]]
    budget = temperature_budget(CURVE_A, 90.0, fine)
    assert budget.expanded_c == pytest.approx(1.12, abs=6e-3)
    assert max(budget.rows, key=lambda row: row.u_ohm).name.startswith("wiper")


def test_pot_budget_by_drawing_lots():
    rng = np.random.default_rng(42)
    draws = 200_000
    ohm = CURVE_A.resistance_ohm(90.0) + sum(
        rng.uniform(-item.half_width, item.half_width, draws) for item in POT_AT_90
    )
    celsius = CURVE_A.temperature_c(ohm)
    budget = temperature_budget(CURVE_A, 90.0, POT_AT_90)
    assert celsius.std() == pytest.approx(0.759, abs=0.004)
    assert celsius.std() == pytest.approx(budget.u_c, rel=0.01)
    low, high = np.percentile(celsius, [2.5, 97.5])
    assert (low, high) == pytest.approx((88.58, 91.48), abs=0.03)
    assert high - low == pytest.approx(2 * budget.expanded_c, rel=0.06)


def test_pot_budget_by_the_package_uncertainties():
    ohm = sum(ufloat(0, item.u) for item in POT_AT_90) + CURVE_A.resistance_ohm(90.0)

    x = umath.log(ohm)
    celsius = 1 / (CURVE_A.a + CURVE_A.b * x + CURVE_A.c * x**3) - 273.15
    budget = temperature_budget(CURVE_A, 90.0, POT_AT_90)
    assert celsius.std_dev == pytest.approx(budget.u_c, rel=1e-6)
    assert celsius.nominal_value == pytest.approx(90.0, abs=1e-9)


def test_ratiometric_reading():
    given = GIVEN["divider_transfer"]
    for share, ohm in given["check_v_to_r"]:
        source = Thevenin(1.0, given["check_rp_ohm"])
        assert resistance_from_node_ohm(source, share) == pytest.approx(ohm)
        # dR/dv = Rp/(1-v)^2
        assert u_resistance_from_node_ohm(source, share, 1e-3) == pytest.approx(
            1e-3 * given["check_rp_ohm"] / (1 - share) ** 2
        )
