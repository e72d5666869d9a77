"""Board time to UTC: the shortest round trips tell, clocks that are set are found out."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.recording.timekeeping import fit_utc

START = 1_772_434_800_000.0


def readings(hours, drift_ppm=0.0, seed=1, slow_share=0.3, every_s=1.0, step_ms=0.0, step_at_s=1e9):
    """Answers that are never early: the truth, a quick round trip, and a share of slow ones whose
    delay is all on one side. ``step_ms`` sets the computer's clock at ``step_at_s``."""
    chance = np.random.default_rng(seed)
    board = np.arange(0, hours * 3600 * 1000, every_s * 1000)
    trip = chance.uniform(1.0, 3.0, len(board))
    slow = chance.random(len(board)) < slow_share
    trip[slow] += chance.exponential(60.0, slow.sum())
    true = (
        START + board * (1 + drift_ppm * 1e-6) + np.where(board >= step_at_s * 1000, step_ms, 0.0)
    )
    late = np.where(slow, trip * 0.45, chance.uniform(-0.2, 0.2, len(board)) * trip)
    return [
        (int(b), int(round(t)), float(r)) for b, t, r in zip(board, true + late, trip, strict=True)
    ]


@pytest.mark.parametrize("drift_ppm", [0.0, 25.0, -40.0, 120.0])
def test_time_of_day_is_right_to_a_few_milliseconds(drift_ppm):
    fit = fit_utc(readings(2.0, drift_ppm))
    assert fit is not None
    t = np.array([0, 1_800_000, 7_199_000])
    truth = START + t * (1 + drift_ppm * 1e-6)
    assert np.abs(fit.utc_ms(t) - truth).max() < 3.0
    assert fit.pieces[0].drift_ppm == pytest.approx(drift_ppm, abs=1.0)
    assert len(fit.pieces) == 1
    assert fit.used < fit.given / 20


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), drift=st.floats(-50, 50), share=st.floats(0, 0.95))
def test_slow_answers_do_not_pull_the_line(seed, drift, share):
    fit = fit_utc(readings(0.5, drift, seed, share))
    assert fit is not None
    assert fit.utc_ms(900_000) == pytest.approx(START + 900_000 * (1 + drift * 1e-6), abs=4.0)
    assert fit.remarks == ()


@pytest.mark.parametrize("step_s", [3600.0, -3600.0, 2.0, -86400.0])
def test_clock_that_is_set_is_found_and_told(step_s):
    fit = fit_utc(readings(1.0, step_ms=step_s * 1000, step_at_s=1200))
    assert fit is not None
    assert [piece.from_ms for piece in fit.pieces] == [0, 1_200_000]
    assert [remark.code for remark in fit.remarks] == ["computer_clock_set"]
    assert ("forward" if step_s > 0 else "back") in fit.remarks[0].text
    assert fit.utc_ms(600_000) == pytest.approx(START + 600_000, abs=5)
    assert fit.utc_ms(1_800_000) == pytest.approx(START + 1_800_000 + step_s * 1000, abs=5)


def test_one_reading_is_enough_for_a_time_of_day():
    fit = fit_utc([(5000, int(START), 4.0)])
    assert fit is not None
    assert fit.utc_ms(6000) == START + 1000
    assert fit.u_ms == pytest.approx(4.0 / 2 / 3**0.5)


def test_nothing_usable_gives_nothing():
    assert fit_utc([]) is None
    assert fit_utc([(0, 0, -5.0)]) is None


def test_scalar_and_array_agree():
    fit = fit_utc(readings(0.1))
    assert fit is not None
    t = [0, 10_000, 300_000]
    assert list(fit.utc_ms(np.array(t))) == [fit.utc_ms(value) for value in t]


def test_stated_uncertainty_holds_the_truth():
    inside = 0
    for seed in range(60):
        fit = fit_utc(readings(0.2, 10.0, seed))
        assert fit is not None
        error = fit.utc_ms(360_000) - (START + 360_000 * (1 + 10e-6))
        inside += abs(error) <= 2 * fit.u_ms
    assert inside >= 57
