"""The shape of a recorded glitch, from buckets with a known truth."""

from __future__ import annotations

import numpy as np
import pytest

from locum.review import Context
from locum.review.chunk import OPEN_MILLIOHM, SAMPLE
from locum.review.findings import Glitch
from locum.review.shape import glitch_shape

CONTEXT = Context(open_v=5.0, pull_up_ohm=1000.0)


def buckets(ohms, start_ms=0):
    """One 10 ms bucket each, seen through 1 kohm to 5 V and by the ohmmeter."""
    rows = np.zeros(len(ohms), SAMPLE)
    rows["t_ms"] = start_ms + 10 * np.arange(len(ohms))
    rows["span_ms"] = 10
    ohms = np.array(ohms, float)
    volts = np.where(np.isinf(ohms), 5.0, 5.0 * ohms / (np.minimum(ohms, 1e12) + 1000.0))
    for name in ("node_min", "node_mean", "node_max"):
        rows[name] = np.round(volts * 1e4)
    for name in ("ohm_min", "ohm_mean", "ohm_max"):
        rows[name] = np.minimum(ohms * 1e3, OPEN_MILLIOHM)
    return rows


def glitch(t_ms, length_ms, towards="cold", channel="node"):
    return Glitch(t_ms, length_ms, towards, 0.0, 0.0, channel, "circuit")


@pytest.mark.parametrize("channel", ["node", "ohmmeter"])
def test_a_resistance_in_series_comes_back_with_its_ohms_and_times(channel):
    rows = buckets([300] * 10 + [2000] * 5 + [5000] * 5 + [300] * 10)
    shape = glitch_shape(rows, glitch(100, 100, channel=channel), CONTEXT)
    assert [t for t, _ in shape] == [-20, 0, 50, 100]
    assert [ohm for _, ohm in shape] == pytest.approx([300, 2000, 5000, 300], rel=0.002)


@pytest.mark.parametrize("channel", ["node", "ohmmeter"])
def test_an_open_is_infinite(channel):
    rows = buckets([300] * 10 + [np.inf] * 3 + [300] * 10)
    shape = glitch_shape(rows, glitch(100, 30, channel=channel), CONTEXT)
    assert np.isinf(dict(shape)[0])
    assert shape[-1][0] == 30


def test_towards_hot_takes_the_least_of_a_bucket():
    rows = buckets([300] * 10 + [40] * 2 + [300] * 10)
    rows["node_max"][10:12] = rows["node_max"][0]
    shape = glitch_shape(rows, glitch(100, 20, "hot"), CONTEXT)
    assert dict(shape)[0] == pytest.approx(40, rel=0.01)


def test_a_record_without_the_glitch_gives_no_shape():
    assert glitch_shape(buckets([300] * 5), glitch(5000, 30), CONTEXT) == []
