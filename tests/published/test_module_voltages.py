"""What a module's pin shows: printed voltages of service information, and effects worked out by hand.

Sources: Saab 9-3 2002 coolant sensor technical data (R and V table, 5 V through 1.0 kohm); Nissan/Infiniti coolant
reference data; Saab 9-5 2001 and Saab 900 1997 for the pull-ups; the rest computed from curve A and B.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from locum.physics.circuit import (
    Stage,
    Thevenin,
    believed_ohm,
    current_a,
    node_v,
    resistance_from_node_ohm,
)
from locum.physics.curve import NtcCurve
from locum.physics.glitch_seen import seen_c, shortest_length_s
from locum.physics.warmup import reaches_s, start_slope_k_per_s, tau_s

DATA = Path(__file__).parent / "data"
ONE_K, SAAB_900 = Thevenin(5.0, 1000.0), Thevenin(5.0, 2740.0)
CURVE_A = NtcCurve(9.20113738e-4, 2.68650219e-4, 1.05038939e-7)
CURVE_B = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7)


def test_printed_voltages_of_the_middle_resistances():
    ohms = np.array([25e3, 9.2e3, 2.5e3, 1.15e3, 617.5, 330, 250, 150])
    expected = [4.808, 4.510, 3.571, 2.674, 1.909, 1.241, 1.000, 0.652]
    printed = [4.8, 4.5, 3.6, 2.7, 1.9, 1.2, 1.0, 0.65]
    volts = node_v(ONE_K, ohms)
    assert volts == pytest.approx(expected, abs=5e-4)
    assert np.all(np.abs(volts - printed) <= 0.05)


def test_printed_limits_bracket_every_printed_voltage():
    with (DATA / "coolant_2k45_pullup1k.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            low, high = node_v(ONE_K, [float(row["r_min_ohm"]), float(row["r_max_ohm"])])
            half_a_step = 0.05 if float(row["v_at_module"]) > 0.9 else 0.005
            assert low - half_a_step <= float(row["v_at_module"]) <= high + half_a_step


def test_a_parallel_leak_of_100_kohm():
    for celsius, read in ((-20, -12.06), (0, 3.85), (20, 21.96), (80, 80.38)):
        believed = believed_ohm(ONE_K, CURVE_A.resistance_ohm(float(celsius)), leak_ohm=1e5)
        assert CURVE_A.temperature_c(believed) == pytest.approx(read, abs=0.005)


def test_contact_resistance_of_ten_ohm():
    # 0.03 K at 20 degC and 0.62 K at 100 degC on curve A, 2.1 K on curve B.
    for curve, celsius, colder in ((CURVE_A, 20, 0.03), (CURVE_A, 100, 0.62), (CURVE_B, 100, 2.1)):
        believed = believed_ohm(ONE_K, curve.resistance_ohm(float(celsius)), lead_ohm=10.0)
        assert celsius - curve.temperature_c(believed) == pytest.approx(
            colder, abs=0.05 if colder > 1 else 0.005
        )


def test_a_return_fifty_millivolts_up():
    for source, read in ((ONE_K, 89.17), (SAAB_900, 88.40)):
        believed = believed_ohm(source, CURVE_A.resistance_ohm(90.0), offset_v=0.05)
        assert CURVE_A.temperature_c(believed) == pytest.approx(read, abs=0.005)
    cold = believed_ohm(ONE_K, CURVE_A.resistance_ohm(20.0), offset_v=0.05)
    assert 20 - CURVE_A.temperature_c(cold) == pytest.approx(0.3, abs=0.3)


def test_a_diode_clamp_reads_hot():
    # An unpowered chip clamps the line at 0.6 V: 136.4 and 373.6 ohm, 170.7 and 121.6 degC.
    for source, ohm, celsius in ((ONE_K, 136.4, 170.7), (SAAB_900, 373.6, 121.6)):
        clamped = resistance_from_node_ohm(source, 0.6)
        assert clamped == pytest.approx(ohm, abs=0.05)
        assert CURVE_A.temperature_c(clamped) == pytest.approx(celsius, abs=0.05)


def test_a_pot_on_three_volts_cannot_show_cold():
    # Clamped near 3.6 V: +51 degC on curve A and +19 on B at 1 kohm; +23 / -3.5 at 2.74 k; -7 / -29 at 10 k.
    for rth, a, b in ((1000, 51, 19), (2740, 23, -3.5), (10_000, -7, -29)):
        ohm = resistance_from_node_ohm(Thevenin(5.0, rth), 3.6)
        assert CURVE_A.temperature_c(ohm) == pytest.approx(a, abs=0.6)
        assert CURVE_B.temperature_c(ohm) == pytest.approx(b, abs=0.6)


def test_current_at_the_hot_end():
    assert current_a(ONE_K, CURVE_A.resistance_ohm(100.0)) * 1e3 == pytest.approx(3.07, abs=0.005)
    assert current_a(ONE_K, CURVE_A.resistance_ohm(120.0)) * 1e3 == pytest.approx(3.60, abs=0.005)
    # 2.5 mA at 5 V need 2.0 kohm in all; with 2.74 kohm the current never exceeds 1.82 mA.
    assert current_a(ONE_K, 1000.0) * 1e3 == pytest.approx(2.5)
    assert current_a(SAAB_900, 0.0) * 1e3 == pytest.approx(1.82, abs=0.005)


def test_a_two_stage_pull_up_jumps_up():
    # 10 kohm, 1 kohm added beside it (909 ohm) when the node has fallen to 1.20 V.
    source = Thevenin(5.0, 10_000.0, stages=(Stage(1e7 / 11_000, below_v=1.2),))
    at = resistance_from_node_ohm(source, 1.2)
    assert at == pytest.approx(3158, abs=0.5)
    assert node_v(source, at + 1) == pytest.approx(1.2, abs=1e-3)
    assert node_v(source, at - 1) == pytest.approx(3.882, abs=1e-3)


def test_shortest_open_and_short_through_a_filter():
    assert shortest_length_s(CURVE_A, ONE_K, 90, 20, 1.0) == pytest.approx(1.6007, abs=5e-5)
    assert shortest_length_s(CURVE_A, ONE_K, 90, 150, 1.0, "short") == pytest.approx(
        0.98, abs=0.005
    )
    for milliseconds, read in ((10, 82.3), (20, 75.6), (50, 59.3), (100, 39.0)):
        assert seen_c(CURVE_A, ONE_K, 90, milliseconds / 1e3, 0.1) == pytest.approx(read, abs=0.06)


def test_warm_up_numbers():
    # 20 to 75 degC in 600 s towards 85 degC: 320.5 s, 0.2028 K/s; towards 90: 389 s; 15 min towards 90: 584 s.
    tau = tau_s(20, 85, 75, 600)
    assert tau == pytest.approx(320.5, abs=0.05)
    assert start_slope_k_per_s(20, 85, tau) == pytest.approx(0.2028, abs=5e-5)
    assert tau_s(20, 90, 75, 600) == pytest.approx(389, abs=0.5)
    assert tau_s(20, 90, 75, 900) == pytest.approx(584, abs=0.5)
    assert start_slope_k_per_s(20, 90, 584) == pytest.approx(0.120, abs=5e-4)
    # From -10 degC with 320 s towards 85: 20 degC after 121 s; from 5 degC after 66 s.
    assert reaches_s(-10, 85, 20, 320) == pytest.approx(121, abs=0.6)
    assert reaches_s(5, 85, 20, 320) == pytest.approx(66, abs=0.6)
