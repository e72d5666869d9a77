"""Recordings in whole degrees, undone within their rounding."""

import csv

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from locum.locations import asset_root
from locum.planning.smooth import taut_string, unrounded


def test_a_staircase_of_a_steady_ramp_becomes_the_ramp():
    t = np.arange(0, 300.0)
    truth = 20 + 0.1 * t
    path = unrounded(t, np.rint(truth))
    assert np.abs(path - np.rint(truth)).max() <= 0.5 + 1e-9
    assert np.abs(np.diff(path)[5:200] - 0.1).max() < 1e-6


@given(st.lists(st.integers(-40, 130), min_size=2, max_size=60))
def test_the_path_stays_in_its_tube_and_no_straight_line_inside_is_less_steep(values):
    t = np.arange(len(values), dtype=float)
    v = np.array(values, float)
    path = unrounded(t, v)
    assert np.all(np.abs(path - v) <= 0.5 + 1e-9)
    # Any path between two samples must at least cover the distance between their tubes.
    for i in range(len(v)):
        for j in range(i + 1, len(v)):
            needed = (abs(v[j] - v[i]) - 1.0) / (t[j] - t[i])
            assert np.abs(np.diff(path)).max() >= needed - 1e-9


def test_a_narrow_tube_is_followed_exactly():
    t = np.array([0.0, 1, 2, 3])
    centre = np.array([0.0, 5, -5, 0])
    np.testing.assert_allclose(taut_string(t, centre, centre), centre)


@pytest.mark.parametrize(
    ("name", "raw_limit", "smooth_limit"),
    [("recorded_warmup_idle_a", 0.5, 0.3), ("recorded_warmup_drive_b", 0.67, 0.39)],
)
def test_recorded_warm_ups_lose_their_false_jumps(name, raw_limit, smooth_limit):
    """Public recordings (source in the files' heads): jumps of a degree become real rates."""
    text = (asset_root("profiles/temperature") / f"{name}.csv").read_text()
    rows = list(csv.DictReader(x for x in text.splitlines() if not x.startswith("#")))
    t = np.array([float(r["run_time_s"]) for r in rows])
    v = np.array([float(r["coolant_c"]) for r in rows])
    raw = np.abs(np.diff(v) / np.diff(t)).max()
    smooth = np.abs(np.diff(unrounded(t, v)) / np.diff(t)).max()
    assert raw == pytest.approx(raw_limit, abs=0.01)
    assert smooth <= smooth_limit
