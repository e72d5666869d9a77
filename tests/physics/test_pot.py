"""Rheostats: tables of codes, and the wiper's growth with voltage."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from locum.physics.pot import rheostat_table_ohm, wiper_law


def test_full_scale_reaches_the_end_only_where_the_divisor_says_so():
    true_full = rheostat_table_ohm(10_000.0, 75.0, 257)
    one_below = rheostat_table_ohm(10_000.0, 52.0, 256, divisor=256)
    assert true_full[0] == 75.0
    assert true_full[-1] == pytest.approx(10_075.0)
    assert true_full[1] - true_full[0] == pytest.approx(39.0625)  # DS22060B: Rab/256
    assert one_below[-1] == pytest.approx(52.0 + 10_000.0 * 255 / 256)


@pytest.mark.parametrize(
    "values",
    [(0.0, 75.0, 257, None), (1e4, -1.0, 257, None), (1e4, 75.0, 1, None), (1e4, 75.0, 257, 200)],
)
def test_impossible_rheostats_are_refused(values):
    with pytest.raises(ValueError, match="no rheostat"):
        rheostat_table_ohm(*values)


@given(st.floats(100, 1e6), st.floats(0, 300), st.integers(2, 1025))
def test_tables_rise_and_scale(rab, zero, taps):
    table = rheostat_table_ohm(rab, zero, taps)
    assert np.all(np.diff(table) > 0)
    double = rheostat_table_ohm(2 * rab, 2 * zero, taps)
    np.testing.assert_allclose(double, 2 * table, rtol=1e-12)


def test_the_wiper_law_by_hand():
    # 5.3 V supply: on = 4.5 V; at 2 V the n half keeps 4.5 - 2.3 = 2.2, the p half gives 1.1.
    assert wiper_law(0.0, 5.3) == 1.0
    assert wiper_law(2.0, 5.3) == pytest.approx(4.5 / 3.3)
    assert wiper_law(0.9, 5.3) == pytest.approx(4.5 / (4.5 - 1.15 * 0.9))
    assert np.all(wiper_law(np.linspace(0, 5.3, 200), 5.3) >= 1.0)
