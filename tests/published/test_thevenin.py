"""The module's Thevenin source: worked examples, and pull-ups deduced from printed voltages.

Sources: Nissan/Infiniti coolant reference data (R and V pairs); Saab 9-5 2001 and 9-3 2002 (1.0 kohm), Saab 900 1997
(2.74 kohm); the worked numbers were computed independently from the divider's formulas.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from locum.physics.circuit import Thevenin, node_v
from locum.physics.measure import best_load_ohm, load_factor, thevenin


def test_printed_pairs_of_a_nissan_table():
    found = [
        thevenin(5.0, [(ohm, volts)]).source.rth_ohm
        for ohm, volts in ((2500, 3.5), (840, 2.2), (248, 0.9))
    ]
    assert found == pytest.approx([1071, 1069, 1130], abs=0.6)
    # Together, volts printed to 0.1 V: one source within them.
    together = thevenin(
        5.0, [(2500, 3.5), (840, 2.2), (248, 0.9)], volt_error_v=0.05, ohm_error_pct=2.0
    )
    assert not together.two_stage
    assert "loads_disagree" not in {remark.code for remark in together.warnings}
    assert 1050 < together.source.rth_ohm < 1110


def test_open_and_one_load():
    # Voc 5.02 V, 2400 ohm (1 %), 2.37 V, half-width 10 mV on both.
    source = thevenin(5.02, [(2400, 2.37)], volt_error_v=0.01, ohm_error_pct=1.0).source
    assert source.rth_ohm == pytest.approx(2683.54, abs=0.005)
    assert source.u_rth_ohm == pytest.approx(20.68, abs=0.005)
    assert source.u_rth_ohm / source.rth_ohm == pytest.approx(0.0077, abs=5e-5)
    assert source.voc_v == pytest.approx(5.02)


def test_the_printed_formula_of_its_uncertainty():
    for open_v, ohm, volts in ((5.02, 2400, 2.37), (4.98, 1000, 2.49), (5.0, 3300, 1.24)):
        source = thevenin(open_v, [(ohm, volts)]).source
        rth = ohm * (open_v / volts - 1)
        u_v = 0.01 / math.sqrt(3)
        relative = math.sqrt(
            (0.01 / math.sqrt(3)) ** 2
            + ((rth + ohm) / rth) ** 2 * ((u_v / open_v) ** 2 + (u_v / volts) ** 2)
        )
        assert source.u_rth_ohm == pytest.approx(relative * rth, rel=1e-6)


def test_two_loads_without_an_open_reading():
    source = thevenin(None, [(1000, 2.61905), (500, 1.77419)]).source
    assert source.rth_ohm == pytest.approx(909.1, abs=0.05)
    assert source.voc_v == pytest.approx(5.000, abs=5e-4)
    # The closed form.
    rth = (2.61905 - 1.77419) / (1.77419 / 500 - 2.61905 / 1000)
    assert source.rth_ohm == pytest.approx(rth, rel=1e-9)


def test_best_load_and_its_price():
    assert best_load_ohm(1000.0) == pytest.approx(830, abs=1)
    for ratio, factor in ((0.83, 4.430), (1.0, 4.472), (0.5, 4.74), (2.0, 5.41)):
        assert load_factor(ratio) == pytest.approx(factor, abs=6e-3)


def test_a_ten_megohm_meter_reads_a_tenth_per_cent_low_at_most():
    # Two readings through the meter: Rth comes out as Rth beside 10 Mohm.
    source, meter = Thevenin(5.0, 10_000.0), 1e7
    readings = node_v(source, meter), node_v(source, 1 / (1 / 8300 + 1 / meter))
    measured = thevenin(readings[0], [(8300, readings[1])])
    assert 1 - measured.source.rth_ohm / 10_000 == pytest.approx(0.001, rel=0.01)


@pytest.mark.parametrize("rth", [1000.0, 2740.0])
def test_published_pull_ups_are_told_apart(rth):
    source = Thevenin(5.0, rth)
    readings = [(ohm, round(node_v(source, ohm), 2)) for ohm in (1000.0, 2200.0)]
    measured = thevenin(5.0, readings)
    assert abs(measured.source.rth_ohm - rth) < 2 * measured.source.u_rth_ohm
    assert measured.source.u_rth_ohm < 0.02 * rth


def test_an_adjustment_by_uncertainties_agrees():
    # The package uncertainties carries the same errors through the closed form.
    from uncertainties import ufloat

    u_v = 0.01 / math.sqrt(3)
    opened, volts = ufloat(5.02, u_v), ufloat(2.37, u_v)
    ohm = ufloat(2400, 24 / math.sqrt(3))
    rth = ohm * (opened / volts - 1)
    source = thevenin(5.02, [(2400, 2.37)]).source
    assert source.u_rth_ohm == pytest.approx(rth.std_dev, rel=1e-6)
    assert np.sign(source.correlation) == 1  # a higher open voltage means a larger Rth
