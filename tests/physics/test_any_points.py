"""Whatever points are given: a curve with finite numbers, or a refusal in plain words; nothing else."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from locum.errors import LocumError
from locum.physics.fit import fit_curve
from locum.physics.measure import thevenin
from locum.physics.readings import curve_from_readings, judge_sensor

celsius = st.one_of(
    st.integers(-60, 250).map(float),
    st.sampled_from([-1e9, -300.0, 0.0, 20.0, 1e9, float("nan"), float("inf")]),
)
ohms = st.one_of(
    st.integers(1, 400_000).map(float),
    st.floats(1e-3, 1e7),
    st.sampled_from([0.0, -1.0, 1e-300, 1e300, float("nan"), float("inf")]),
)
usable = st.tuples(st.integers(-60, 250).map(float), st.floats(0.5, 1e6))
points = st.lists(st.tuples(celsius, ohms), max_size=12) | st.lists(usable, min_size=1, max_size=25)


def outcome(call):
    """The call's result, or its remarks; numerical warnings count as failures."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            return call(), []
        except LocumError as error:
            return None, [remark.text for remark in error.remarks]


@settings(deadline=None, max_examples=120)
@example(rows=[(214.0, 10.0), (215.0, 1.0)], kind="ntc")
@given(rows=points, kind=st.sampled_from(["ntc", "beta", "table", "platinum", "silicon", "auto"]))
def test_any_points_are_fitted_or_refused(rows, kind):
    t, r = [row[0] for row in rows], [row[1] for row in rows]
    fit, said = outcome(lambda: fit_curve(t, r, kind))
    assert (fit is None) == bool(said)
    assert all(said)
    if fit is not None:
        assert np.all(np.isfinite(list(fit.coefficients.values())))
        inner = np.linspace(*fit.curve.span_c, 20)
        assert np.all(np.isfinite(fit.curve.resistance_ohm(inner)))
        assert np.all(fit.curve.resistance_ohm(inner) > 0)
        assert np.all(np.isfinite(fit.curve.u_temperature_c(inner)))
        assert all(remark.text for remark in fit.warnings)


@settings(deadline=None, max_examples=80)
@given(rows=points)
@example(rows=[(1.0, 0.0), (1.0, 1e-300)])
def test_any_readings_give_a_curve_or_a_refusal(rows):
    fit, said = outcome(lambda: curve_from_readings(rows))
    assert (fit is None) == bool(said)


@settings(deadline=None, max_examples=60)
@given(t=st.floats(-30, 90), r=st.floats(1, 1e6), u=st.floats(0.01, 5))
def test_any_reading_is_judged(t, r, u):
    limits = fit_curve([-30, 20, 90], ohms_low=[22220, 2270, 219], ohms_high=[31780, 2730, 243])
    result, said = outcome(lambda: judge_sensor(limits, [(t, r)], u_celsius=u))
    assert said == []
    assert result.judgement in ("in", "out", "inconclusive")
    if result.judgement == "in":
        assert result.readings[0].low_ohm <= r <= result.readings[0].high_ohm


@settings(deadline=None, max_examples=120)
@given(
    open_v=st.none() | st.floats(0, 15) | st.sampled_from([5.0, float("nan")]),
    loads=st.lists(
        st.tuples(st.floats(1, 1e6) | st.sampled_from([0.0, -5.0]), st.floats(0, 15)), max_size=5
    ),
)
def test_any_module_readings_are_measured_or_refused(open_v, loads):
    measured, said = outcome(lambda: thevenin(open_v, loads))
    assert (measured is None) == bool(said)
    assert all(said)
    if measured is not None:
        assert measured.source.rth_ohm > 0
        assert measured.source.voc_v > 0
        assert np.isfinite(measured.chi2)
        assert all(remark.text for remark in (*measured.refusals, *measured.warnings))


def test_a_table_of_a_thousand_rows_is_judged():
    t = np.linspace(-40, 140, 1000)
    r = 2500 * np.exp(3600 * (1 / (t + 273.15) - 1 / 293.15))
    fit = fit_curve(t, r)
    assert fit.worst_c == pytest.approx(0.0, abs=1e-6)
