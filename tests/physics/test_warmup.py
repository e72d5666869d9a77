"""Warm-ups: the exponential, the thermostat's knee, heat soak, and fits to recordings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.errors import Refused
from locum.physics.warmup import (
    Coolant,
    coolant_c,
    fitted_warmup,
    heat_soak_c,
    lagging_c,
    reaches_s,
    start_slope_k_per_s,
    tau_s,
    warmup_c,
)


def test_one_lump_starts_ends_and_has_gone_63_percent_after_tau():
    assert warmup_c(0.0, 20, 85, 300) == 20
    assert warmup_c(300.0, 20, 85, 300) == pytest.approx(20 + 65 * (1 - np.exp(-1)))
    assert warmup_c(1e6, 20, 85, 300) == pytest.approx(85)
    assert warmup_c(np.arange(3.0), 20, 85, 300).shape == (3,)


@settings(deadline=None, max_examples=60)
@given(
    start=st.floats(-40, 40),
    end=st.floats(60, 120),
    part=st.floats(0.05, 0.95),
    after=st.floats(10, 3000),
)
def test_time_constant_and_time_go_both_ways(start, end, part, after):
    at = start + part * (end - start)
    tau = tau_s(start, end, at, after)
    assert warmup_c(after, start, end, tau) == pytest.approx(at, abs=1e-9)
    assert reaches_s(start, end, at, tau) == pytest.approx(after, rel=1e-9)


def test_a_temperature_off_the_way_is_refused():
    for at in (19.0, 20.0, 85.0, 90.0):
        with pytest.raises(Refused, match="between 20 and 85"):
            tau_s(20, 85, at, 600)
    with pytest.raises(Refused):
        warmup_c(1.0, 20, 85, 0.0)


def test_sensor_lag_settles_rate_times_lag_behind():
    # By hand: 0.2 K/s x 15 s = 3 K.
    assert 0.2 * 600 - lagging_c(600.0, 0.2, 15.0) == pytest.approx(3.0, abs=1e-6)
    assert lagging_c(0.0, 0.2, 15.0, start_c=20.0) == 20.0


@settings(deadline=None, max_examples=40)
@given(start=st.floats(-40, 95))
def test_coolant_is_continuous_rises_to_its_knee_and_then_hunts(start):
    t = np.arange(0.0, 3600.0, 0.5)
    c = coolant_c(t, start)
    numbers = Coolant()
    steepest = start_slope_k_per_s(-40, numbers.unregulated_c, numbers.tau_s)
    assert c[0] == pytest.approx(start, abs=1e-9)
    assert np.abs(np.diff(c)).max() / 0.5 < steepest + 0.05
    late = c[t > 2400]
    middle = numbers.thermostat_c + numbers.settled_k
    assert np.abs(late - middle).max() <= numbers.hunt_k + 0.1
    assert late.max() - late.min() > numbers.hunt_k


def test_coolant_dips_after_the_thermostat_opens():
    numbers = Coolant()
    opens = reaches_s(
        20, numbers.unregulated_c, numbers.thermostat_c + numbers.settled_k, numbers.tau_s
    )
    after = coolant_c(opens + np.arange(0.0, 60.0), 20.0)
    assert 2.0 <= numbers.thermostat_c + numbers.settled_k - after.min() <= 8.0


def test_heat_soak_rises_ten_kelvin_in_ten_minutes_then_falls():
    t = np.arange(0.0, 4 * 3600.0, 10.0)
    c = heat_soak_c(t, 90.0, 20.0)
    assert c[0] == 90.0
    assert heat_soak_c(600.0, 90.0, 20.0) == pytest.approx(100.0)
    assert 300 <= t[np.argmax(c)] <= 900
    assert 99.9 <= c.max() <= 101.0
    assert c[-1] < 40.0


def test_a_lump_is_found_again_in_noisy_whole_degrees():
    t = np.arange(0.0, 900.0, 5.0)
    recorded = np.round(warmup_c(t, 18, 92, 310) + np.random.default_rng(3).normal(0, 0.3, len(t)))
    start, end, tau, rms = fitted_warmup(t, recorded)
    assert start == pytest.approx(18, abs=0.5)
    assert end == pytest.approx(92, abs=1.0)
    assert tau == pytest.approx(310, rel=0.04)
    assert rms < 0.6
    with pytest.raises(Refused):
        fitted_warmup([0, 1, 2], [20, 21, 22])
