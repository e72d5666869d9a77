"""Few readings: a curve from them, a verdict on the sensor, and learning on the car."""

from __future__ import annotations

import numpy as np
import pytest

from locum.errors import Misuse, Refused
from locum.physics.curve import BetaCurve, NtcCurve, TableCurve
from locum.physics.fit import fit_curve
from locum.physics.readings import Reading, curve_from_readings, judge_sensor, learn_on_car
from locum.physics.warmup import warmup_c

CURVE = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7, span_c=(-40.0, 140.0))
LIMITS = fit_curve(
    [-30, -10, 0, 20, 40, 60, 80, 90],
    ohms_low=[22220, 8160, 5180, 2270, 1059, 538, 298, 219],
    ohms_high=[31780, 10740, 6600, 2730, 1281, 650, 322, 243],
)


def codes(remarks) -> set[str]:
    return {remark.code for remark in remarks}


def test_one_reading_gives_the_usual_beta_and_the_range_it_leaves():
    fit = curve_from_readings([(20.0, 2500.0)])
    assert isinstance(fit.curve, BetaCurve)
    assert fit.curve.resistance_ohm(20.0) == pytest.approx(2500.0)
    low, high = fit.band.limits_ohm(90.0)
    for beta in (3200.0, 3800.0, 4400.0):
        assert low <= 2500 * np.exp(beta * (1 / 363.15 - 1 / 293.15)) * (1 + 1e-12)
        assert high >= 2500 * np.exp(beta * (1 / 363.15 - 1 / 293.15)) * (1 - 1e-12)
    cold_low, cold_high = fit.band.limits_ohm(-20.0)
    assert cold_low < fit.curve.resistance_ohm(-20.0) < cold_high
    assert f"{low:.3g} to {high:.3g} ohm at 90 degC" in fit.warnings[0].found
    # The stated uncertainty covers the true sensors of the published tables at 90 degC.
    assert 2 * fit.curve.u_temperature_c(90.0) > abs(fit.curve.temperature_c(231.0) - 90.0)


def test_two_readings_give_their_beta():
    fit = curve_from_readings([(20.0, 2501.0), (80.0, 308.6)])
    assert fit.kind == "beta"
    assert fit.curve.resistance_ohm([20.0, 80.0]) == pytest.approx([2501.0, 308.6])
    assert codes(fit.warnings) == {"two_points"}


def test_three_readings_are_met_exactly():
    fit = curve_from_readings([(0, 5975), (40, 1152), (100, 175.7)])
    assert fit.kind == "ntc"
    assert fit.worst_c < 1e-9
    assert fit.coefficients["a"] == pytest.approx(1.33514771e-3, rel=1e-7)


def test_readings_that_rise_are_platinum_or_silicon():
    assert curve_from_readings([(0, 1000.0), (100, 1385.1)]).kind == "platinum"
    assert curve_from_readings([(0, 1630.0), (100, 3392.0)]).kind == "silicon"


def test_odd_readings_are_doubted():
    assert "unusual_beta" in codes(curve_from_readings([(20, 1500), (82, 300)]).warnings)
    assert "close_readings" in codes(curve_from_readings([(20, 2500), (25, 2050)]).warnings)
    with pytest.raises(Refused, match="different temperatures"):
        curve_from_readings([(20, 2500), (20, 2510)])
    with pytest.raises(Refused, match="above zero"):
        curve_from_readings([(20, -1)])


def test_a_good_sensor_is_in():
    result = judge_sensor(LIMITS, [(20.0, 2501.0), (80.0, 309.0)])
    assert result.judgement == "in"
    assert all(item.low_ohm < item.reading.ohms < item.high_ohm for item in result.readings)
    assert "Within the published limits" in result.sentence


def test_a_bad_sensor_is_out_by_one_reading():
    result = judge_sensor(LIMITS, [(20.0, 2501.0), (80.0, 420.0)])
    assert [item.judgement for item in result.readings] == ["in", "out"]
    assert result.judgement == "out"
    assert "298 to 322 ohm" in result.sentence


def test_across_a_limit_is_inconclusive_and_says_what_would_help():
    result = judge_sensor(LIMITS, [(20.0, 2300.0)], u_celsius=1.0)
    assert result.judgement == "inconclusive"
    assert "thermometer" in result.warnings[0].remedy
    by_meter = judge_sensor(LIMITS, [Reading(20.0, 2290.0, u_celsius=0.01)], meter_pct=5.0)
    assert by_meter.judgement == "inconclusive"
    assert "ohmmeter" in by_meter.warnings[0].remedy
    better = judge_sensor(LIMITS, [Reading(20.0, 2300.0, 0.05, 1.0)])
    assert better.judgement == "in"


def test_the_uncertainty_of_a_reading_by_hand():
    (item,) = judge_sensor(
        LIMITS, [(20.0, 2500.0)], meter_pct=0.5, meter_digits_ohm=2.0, u_celsius=0.5
    ).readings
    slope = abs(LIMITS.curve.slope_ohm_per_k(20.0))
    by_hand = 2 * np.sqrt((12.5**2 + 2.0**2) / 3 + (0.5 * slope) ** 2)
    assert item.expanded_ohm == pytest.approx(by_hand, rel=1e-9)
    assert item.expanded_c == pytest.approx(by_hand / slope, rel=1e-9)


def test_at_a_limit_a_good_sensor_is_called_out_as_seldom_as_promised():
    rng = np.random.default_rng(8)
    low = LIMITS.band.limits_ohm(20.0)[0]
    slope = abs(LIMITS.curve.slope_ohm_per_k(20.0))
    out = 0
    for _ in range(2000):
        reading = (20.0, low + slope * 0.5 * rng.normal())
        out += judge_sensor(LIMITS, [reading], meter_pct=0.0).judgement == "out"
    # A sensor exactly on the limit: 2.3 % by the normal distribution.
    assert 0.01 < out / 2000 < 0.04


def test_without_limits_nothing_is_judged():
    result = judge_sensor(CURVE, [(20.0, 4000.0)])
    assert result.judgement == "inconclusive"
    assert codes(result.warnings) == {"no_band"}
    assert judge_sensor(CURVE, [(20.0, 4000.0)], tolerance_pct=5.0).judgement == "out"
    assert judge_sensor(CURVE, [(20.0, 2510.0)], tolerance_pct=10.0).judgement == "in"
    with pytest.raises(Misuse):
        judge_sensor(CURVE, [])


def test_readings_beyond_the_published_rows_are_not_judged():
    result = judge_sensor(LIMITS, [(120.0, 300.0)])
    assert result.judgement == "inconclusive"
    assert codes(result.warnings) == {"outside_points"}


def recorded(start=12.0, end=88.0, tau=290.0, length_s=1200, factor=1.0, tilt=0.0):
    """A warm-up of a sensor that is a published one with a factor and a tilt of beta."""
    t = np.arange(0.0, length_s)
    celsius = warmup_c(t, start, end, tau)
    own = NtcCurve(CURVE.a - np.log(factor) * CURVE.b, CURVE.b * (1 + tilt), CURVE.c)
    return t, celsius, own.resistance_ohm(celsius), own


def readings_of(t, celsius, rng, u=0.7, moments=(20, 150, 320, 520, 800, 1150)):
    return [
        (s + rng.normal(0, 3), float(np.interp(s, t, celsius)) + rng.normal(0, u)) for s in moments
    ]


@pytest.mark.parametrize("with_prior", [False, True])
def test_a_learnt_curve_holds_the_truth_as_often_as_it_says(with_prior):
    rng = np.random.default_rng(21)
    at = np.array([20.0, 40.0, 60.0, 80.0])
    inside, widths = [], []
    for _ in range(120):
        t, celsius, ohms, own = recorded(
            start=rng.uniform(0, 20), factor=1 + 0.04 * rng.normal(), tilt=0.01 * rng.normal()
        )
        fit = learn_on_car(
            t, ohms, readings_of(t, celsius, rng), CURVE if with_prior else None,
            u_celsius=0.7, u_time_s=3.0, meter_pct=0.1,
        )  # fmt: skip
        u = fit.curve.u_temperature_c(at)
        inside.append(np.abs(fit.curve.temperature_c(own.resistance_ohm(at)) - at) <= 2 * u)
        widths.append(u)
    assert np.mean(inside) >= 0.92
    # Honest, and not by being vague: within a kelvin or so in the middle.
    assert np.median(widths, axis=0)[1:3].max() < 1.2


def test_a_published_start_makes_few_readings_worth_more():
    rng = np.random.default_rng(3)
    t, celsius, ohms, _ = recorded(factor=1.03)
    readings = readings_of(t, celsius, rng, moments=(30, 500))
    alone, helped = learn_on_car(t, ohms, readings), learn_on_car(t, ohms, readings, CURVE)
    assert helped.curve.u_temperature_c(40.0) <= alone.curve.u_temperature_c(40.0) + 1e-9
    assert helped.kind == "ntc"
    assert helped.band.half_width_c(60.0) == pytest.approx(
        2 * helped.curve.u_temperature_c(60.0), rel=0.1
    )


def test_the_band_of_a_learnt_curve_lies_around_it():
    rng = np.random.default_rng(3)
    t, celsius, ohms, _ = recorded()
    fit = learn_on_car(t, ohms, readings_of(t, celsius, rng), CURVE)
    for temperature in (20.0, 50.0, 80.0):
        low, high = fit.band.limits_ohm(temperature)
        assert low < fit.curve.resistance_ohm(temperature) < high


def test_lag_is_corrected_and_adds_uncertainty():
    t, celsius, ohms, own = recorded(tau=200.0)
    # The thermometer shows the fluid; the sensor follows 15 s later.
    moments = [(s, float(np.interp(s + 15.0, t, celsius))) for s in (60, 120, 240, 480)]
    lagged = learn_on_car(t, ohms, moments, u_celsius=0.2, u_time_s=0.5, lag_s=15.0)
    blind = learn_on_car(t, ohms, moments, u_celsius=0.2, u_time_s=0.5)
    at = np.array([35.0, 60.0])
    miss = [
        np.abs(fit.curve.temperature_c(own.resistance_ohm(at)) - at).max()
        for fit in (lagged, blind)
    ]
    assert miss[0] < 0.25 * miss[1]
    assert lagged.curve.u_temperature_c(35.0) > blind.curve.u_temperature_c(35.0)


def test_a_table_may_be_the_published_start():
    rows = tuple((float(c), float(CURVE.resistance_ohm(float(c)))) for c in range(-20, 121, 20))
    t, celsius, ohms, own = recorded(factor=1.05)
    exact = [(s, float(np.interp(s, t, celsius))) for s in (30, 200, 600, 1100)]
    fit = learn_on_car(
        t, ohms, exact, TableCurve(rows), u_celsius=0.1, u_time_s=0.1, meter_pct=0.01
    )
    assert fit.curve.temperature_c(own.resistance_ohm(60.0)) == pytest.approx(60.0, abs=0.3)
    rising = TableCurve(((0, 1000), (100, 1400)))
    with pytest.raises(Refused, match="falls with temperature"):
        learn_on_car(t, ohms, exact, rising)


def test_a_sensor_far_from_its_table_is_said_to_be():
    t, celsius, ohms, _ = recorded(factor=1.6)
    exact = [(s, float(np.interp(s, t, celsius))) for s in (30, 200, 600, 1100)]
    fit = learn_on_car(t, ohms, exact, CURVE, u_celsius=0.2, u_time_s=0.5)
    assert "far_from_published" in codes(fit.warnings)


def test_readings_that_contradict_each_other_widen_the_uncertainty():
    t, celsius, ohms, _ = recorded()
    moments = [
        (s, float(np.interp(s, t, celsius)) + off)
        for s, off in ((30, 6), (60, -6), (400, 6), (450, -6))
    ]
    fit = learn_on_car(t, ohms, moments, CURVE, u_celsius=0.3, u_time_s=0.5)
    assert "readings_disagree" in codes(fit.warnings)
    calm = learn_on_car(
        t, ohms, [(s, float(np.interp(s, t, celsius))) for s, _ in moments], CURVE, 0.3, 0.5
    )
    assert fit.curve.u_temperature_c(50.0) > 2 * calm.curve.u_temperature_c(50.0)


@pytest.mark.parametrize(
    ("t", "ohms", "thermometer", "said"),
    [
        ([0, 1, 2], [2500, 2400, 2300], [(0, 20)], "two readings"),
        ([0, 1, 2], [2500, 2400, 2300], [(0, 20), (500, 80)], "500 s"),
        ([0, 1, 2], [2500, 0, 2300], [(0, 20), (2, 21)], "above zero"),
        ([0, 1, 2], [np.inf, 0, 2300], [(0, 20), (2, 21)], "2 that are not"),
        ([0, 2, 1], [2500, 2400, 2300], [(0, 20), (2, 21)], "rising"),
    ],
)
def test_a_record_that_teaches_nothing_is_refused(t, ohms, thermometer, said):
    with pytest.raises(Refused, match=said):
        learn_on_car(np.array(t, float), np.array(ohms, float), thermometer)
