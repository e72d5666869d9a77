"""Steps only where the value moves; never further from the profile than half a resolution."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.planning.quantise import MAX_DWELL_MS, quantised
from locum.planning.timeline import Span, line


def test_a_ramp_from_0_to_95_degrees_is_1900_steps():
    steps = quantised(line("", "ramp", (0, 0.0), (1900, 95.0)), 0.05)
    assert len(steps) == pytest.approx(1900, abs=2)


def test_a_hold_is_one_value_said_again_each_minute():
    steps = quantised(line("", "hold", (0, 82.013), (150, 82.013)), 0.05)
    assert list(steps.dwell_ms) == [60_000, 60_000, 30_000]
    assert set(steps.celsius) == {82.013}


def test_an_open_in_the_middle_is_a_step_of_its_own():
    span = line("", "glitches", (0, 88), (1.0, 88), (1.25, 88), contact=(0, 1, 0))
    steps = quantised(span, 0.05)
    assert list(steps.contact) == [0, 1]
    assert list(steps.dwell_ms) == [1000, 250]


knots = st.lists(st.tuples(st.integers(1, 200_000), st.floats(-40, 150)), min_size=2, max_size=30)


@settings(max_examples=60)
@given(knots)
def test_no_instant_is_further_than_half_a_resolution_from_its_step(rows):
    t = np.concatenate(([0], np.cumsum([r[0] for r in rows]))) / 1000
    c = np.array([20.0] + [r[1] for r in rows])
    steps = quantised(Span(t, c, np.zeros(len(t), np.uint8)), 0.05)
    assert steps.dwell_ms.sum() == round(t[-1] * 1000)
    assert steps.dwell_ms.min() >= 1
    assert steps.dwell_ms.max() <= MAX_DWELL_MS
    middle = steps.t_ms + steps.dwell_ms / 2
    steepest = np.abs(np.diff(c) / np.diff(t)).max()
    error = np.abs(np.interp(middle / 1000, t, c) - steps.celsius)
    # A step shorter than a millisecond cannot be said; what that costs is the slope's share.
    assert error.max() <= 0.025 + 1e-9 + steepest * 0.001
