"""Thresholds from bisection, sweeps and staircases, against worked figures and a known module."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locum.errors import Refused
from locum.review import threshold as finder


@pytest.mark.parametrize(("resolution", "steps"), [(1.0, 6), (0.5, 7)])
def test_sixty_kelvin_need_as_many_trials_as_the_logarithm_says(resolution, steps):
    """ceil(log2(60 / res)) (common practice, worked by hand)."""
    search = finder.Bisection(20.0, 80.0, resolution)
    assert search.steps_needed == steps
    while not search.done:
        search.answer(search.next_c > 43.3)
    assert search.trials == steps
    assert search.result.low_c <= 43.3 <= search.result.high_c
    assert search.result.high_c - search.result.low_c <= resolution


@given(st.floats(-20, 120), st.booleans())
def test_bisection_closes_on_the_change_from_either_side(change_c, rising):
    ends = (-25.0, 125.0) if rising else (125.0, -25.0)
    search = finder.Bisection(*ends, 0.5)
    while not search.done:
        assert search.trials <= 10
        search.answer((search.next_c > change_c) == rising)
    found = search.result
    assert found.low_c - 1e-9 <= change_c <= found.high_c + 1e-9
    assert found.expanded_c <= 0.25 + 1e-9


def test_the_first_reset_lies_beyond_the_side_of_no():
    assert finder.Bisection(40.0, 60.0).reset_c == pytest.approx(36.0)
    assert finder.Bisection(60.0, 40.0).reset_c == pytest.approx(64.0)


def test_two_rates_take_the_shift_of_filter_and_confirm_out():
    """21.2 degC at 0.5 K/s and 24.2 at 2 K/s: slope 2 s, 20.2 degC (worked by hand)."""
    found = finder.extrapolated_c([0.5, 2.0], [21.2, 24.2])
    assert found.celsius == pytest.approx(20.2)
    exact = finder.extrapolated_c([0.1, 0.2, 0.4], [50.3, 50.6, 51.2])
    assert exact.celsius == pytest.approx(50.0)
    assert exact.expanded_c == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("rates", [[0.3], [0.3, 0.3], []])
def test_one_rate_is_refused(rates):
    with pytest.raises(Refused):
        finder.extrapolated_c(rates, [50.0] * len(rates))


def test_staircase_mean_and_its_interval():
    """Reversals 21.2 20.4 21.0 20.6 21.1 20.5: 20.80, 95 % +-0.36 K by t = 2.571 (by hand)."""
    found = finder.staircase_mean([21.2, 20.4, 21.0, 20.6, 21.1, 20.5])
    assert found.celsius == pytest.approx(20.80)
    assert found.expanded_c == pytest.approx(0.36, abs=0.005)


def test_staircase_ends_around_the_change():
    stairs = finder.Staircase(15.0, 1.0)
    while not stairs.done:
        assert len(stairs.answers) < 60
        stairs.answer(stairs.next_c > 20.3)
    assert stairs.result.celsius == pytest.approx(20.5, abs=0.01)


def test_a_sweep_tells_where_a_state_came_and_went():
    track = [(0.0, 40.0), (100.0, 60.0), (200.0, 40.0)]
    states = [(0.0, "off"), (90.0, "on"), (140.0, "off")]
    came = finder.from_sweep(track, states, "on")
    assert came["up"] == [pytest.approx(58.0)]
    assert came["down"] == [pytest.approx(52.0)]


def test_the_instrument_widens_an_interval_in_squares_and_hysteresis_adds_both():
    plain = finder.from_bracket(57.7, 58.3)
    wide = finder.widened(plain, 0.2)
    assert wide.expanded_c == pytest.approx(math.hypot(0.3, 0.4))
    assert wide.celsius == plain.celsius
    gap = finder.Hysteresis(plain, finder.from_bracket(51.6, 52.4))
    assert gap.width_c == pytest.approx(6.0)
    assert gap.expanded_c == pytest.approx(0.5)
