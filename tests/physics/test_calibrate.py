"""The self-calibration on virtual boards: the fit sees converter counts, the truth judges it."""

import json
from dataclasses import replace

import numpy as np
import pytest

from locum.errors import FileTrouble, Refused
from locum.locations import asset_root
from locum.physics.budget import temperature_budget
from locum.physics.calibrate import fit_calibration
from locum.physics.calibration import Calibration
from locum.physics.choose import choose_codes
from locum.physics.circuit import Thevenin
from locum.physics.curve import NtcCurve
from locum.physics.floor import with_floor
from locum.physics.handmeter import HandReading, check_by_meter
from locum.physics.network import Network
from locum.physics.ohmmeter import Ohmmeter
from locum.physics.sweep import Readings, calibration_sweep, floor_sweep
from locum.physics.uncertainty import closed_loop, network_uncertainty
from locum.sheets.board import read_board
from locum.virtual.analog import NetworkTruth

SHEET = read_board((asset_root("hardware/boards") / "reference.toml").read_text())
NETWORK, METER = Network.from_board(SHEET), Ohmmeter.from_board(SHEET)
WHOLE, SHORT = calibration_sweep(NETWORK, METER), floor_sweep(NETWORK, METER)
CURVE = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7)
CELSIUS = np.arange(-20.0, 121.0, 5.0)
SOURCE = Thevenin(5.0, 2490.0)
DATE = "2026-03-01T08:00:00Z"


def read(truth, sweep):
    on, off = np.empty(len(sweep)), np.empty(len(sweep))
    for samples in np.unique(sweep.samples):
        rows = np.flatnonzero(sweep.samples == samples)
        part = sweep.at(rows)
        on[rows], off[rows] = truth.ohm_counts(
            part.range_index, part.codes, part.out, part.hot, int(samples)
        )
    return Readings(sweep, on, off)


def calibrated(seed):
    truth = NetworkTruth(SHEET, seed, 23.0)
    return truth, fit_calibration(NETWORK, METER, read(truth, WHOLE), f"B{seed}", DATE, 23.0)


@pytest.fixture(scope="module")
def board():
    return calibrated(11)


def errors_and_u(truth, calibration):
    network = NETWORK.calibrated(calibration)
    choice = choose_codes(network, CURVE.resistance_ohm(CELSIUS), SOURCE)
    state = choice.codes, choice.out, choice.hot
    node_v, _ = truth.standin_on(5.0, 2490.0, *state)
    slope = np.abs(CURVE.slope_ohm_per_k(CELSIUS))
    error = np.abs(truth.ohm(*state, node_v) - choice.set_ohm) / slope
    u = network_uncertainty(calibration, network, *state, SOURCE)
    return error, 2 * u.u_ohm / slope, u


def test_a_board_measures_itself_in_two_minutes():
    assert WHOLE.seconds < 120
    assert SHORT.seconds < 3
    for wiper in range(4):
        alone = WHOLE.codes[(~WHOLE.out).sum(1) == 1]
        assert set(alone[:, wiper]) == set(range(257))
    assert ((~WHOLE.out).sum(axis=1) <= 1).all()


def test_no_reading_overloads_a_wiper():
    ohm = NETWORK.resistance_ohm(WHOLE.codes, WHOLE.out, WHOLE.hot)
    rk = np.asarray(METER.ranges_ohm)[WHOLE.range_index]
    assert (METER.vref_v / (ohm + rk)).max() < 2.5e-3


def test_set_temperatures_are_true_after_calibration(board):
    truth, calibration = board
    error, _, _ = errors_and_u(truth, calibration)
    assert error.max() < 0.3
    nominal = choose_codes(NETWORK, CURVE.resistance_ohm(CELSIUS), SOURCE)
    untrue = truth.ohm(nominal.codes, nominal.out, nominal.hot, 2.0)
    worst = np.abs(CURVE.temperature_c(untrue) - CELSIUS).max()
    assert worst > 1.0  # what it is good for


@pytest.mark.parametrize("away_k", [20.0, -20.0])
def test_a_board_20_kelvin_away_needs_its_floor_measured_again(away_k):
    truth, calibration = calibrated(12)
    truth.set_ambient(23.0 + away_k)
    blind, _, _ = errors_and_u(truth, calibration)
    again = with_floor(calibration, NETWORK, METER, read(truth, SHORT), "2026-03-02T08:00:00Z")
    seen, _, _ = errors_and_u(truth, again)
    assert seen.max() < 0.5
    assert seen.max() < blind.max()
    assert again.floor_date_utc.startswith("2026-03-02")


def test_a_second_short_sweep_replaces_the_first(board):
    truth, calibration = board
    readings = read(truth, SHORT)
    once = with_floor(calibration, NETWORK, METER, readings, DATE)
    twice = with_floor(once, NETWORK, METER, readings, DATE)
    for first, second in zip(once.table_ohm, twice.table_ohm, strict=True):
        np.testing.assert_allclose(second, first, rtol=1e-9)
    assert twice.series_ohm == pytest.approx(once.series_ohm)


def test_stated_uncertainties_hold_and_are_not_idle():
    errors, stated = [], []
    for seed in range(20, 26):
        truth, calibration = calibrated(seed)
        truth.set_ambient(43.0 if seed % 2 else 3.0)
        again = with_floor(calibration, NETWORK, METER, read(truth, SHORT), DATE)
        error, expanded, _ = errors_and_u(truth, again)
        errors.append(error)
        stated.append(expanded)
    error, expanded = np.array(errors), np.array(stated)
    assert np.mean(error <= expanded) >= 0.90
    assert np.quantile(error / expanded, 0.95) > 0.6


def test_every_contribution_is_named_and_fits_the_budget(board):
    truth, calibration = board
    _, _, u = errors_and_u(truth, calibration)
    assert {"range references", "converter linearity", "wiper against voltage", "readings",
            "series and hot branches", "leakage", "ladder since"} <= set(u.lines)  # fmt: skip
    at = int(np.flatnonzero(CELSIUS == 90.0)[0])
    budget = temperature_budget(CURVE, 90.0, u.contributions(at))
    assert budget.u_ohm == pytest.approx(float(u.u_ohm[at]))
    assert u.ruling(at) in u.lines


def test_a_known_small_distance_in_temperature_shrinks_the_drift_lines(board):
    _, calibration = board
    network = NETWORK.calibrated(calibration)
    choice = choose_codes(network, [105.0], SOURCE)
    state = choice.codes, choice.out, choice.hot
    wide = network_uncertainty(calibration, network, *state, SOURCE)
    near = network_uncertainty(calibration, network, *state, SOURCE, away_k=1.0)
    assert near.u_ohm[0] < 0.5 * wide.u_ohm[0]


def test_leakage_is_stated_for_a_board_that_warms_and_for_the_line_itself():
    truth, calibration = calibrated(12)
    truth.set_ambient(43.0)
    warm = with_floor(calibration, NETWORK, METER, read(truth, SHORT), DATE)
    network = NETWORK.calibrated(warm)
    choice = choose_codes(network, CURVE.resistance_ohm([-20.0]), SOURCE)
    state = choice.codes, choice.out, choice.hot

    def stated_a(made):
        known = network_uncertainty(made, network, *state, SOURCE)
        ohm = float(choice.set_ohm[0])
        return float(known.lines["potentiometer leakage"][0]) * 5.0 / (ohm * (ohm + 2490.0))

    # The data sheet's 100 nA as 50 nA, four times as much 20 K warmer, and more as the board warms.
    assert 100e-9 < stated_a(replace(warm, drift={**warm.drift, "warming_k": 0.0})) < 400e-9
    assert stated_a(warm) > 1.05 * stated_a(replace(warm, drift={**warm.drift, "warming_k": 0.0}))
    truth.set_ambient(3.0)
    cold = with_floor(calibration, NETWORK, METER, read(truth, SHORT), DATE)
    assert 15e-9 < stated_a(cold) < 50e-9  # what is left is mostly the line's own


def test_what_is_stored_comes_back_the_same(board):
    _, calibration = board
    stored = json.loads(json.dumps(calibration.to_dict()))
    back = Calibration.from_dict(stored)
    assert back.calibration_id == calibration.calibration_id
    assert NETWORK.calibrated(back).network_id == NETWORK.calibrated(calibration).network_id
    np.testing.assert_array_equal(back.table_factor[2], calibration.table_factor[2])


@pytest.mark.parametrize(
    ("key", "value", "code"),
    [("series_ohm", 35.0, "calibration_damaged"), ("format", 2, "calibration_format")],
)
def test_damaged_and_newer_calibrations_are_refused(board, key, value, code):
    data = board[1].to_dict()
    data[key] = value
    with pytest.raises(FileTrouble) as caught:
        Calibration.from_dict(data)
    assert caught.value.remarks[0].code == code


def test_use_is_checked_for_board_age_and_temperature(board):
    _, calibration = board
    assert calibration.check_use("B11", "2026-04-01T00:00:00Z", 30.0) == []
    late = calibration.check_use("B11", "2026-12-01T00:00:00Z", 50.0)
    assert [r.code for r in late] == ["calibration_old", "calibration_temperature"]
    for serial, now, code in (
        ("B12", "2026-04-01T00:00:00Z", "other_board"),
        ("B11", "2028-04-01T00:00:00Z", "calibration_age"),
    ):
        with pytest.raises(Refused) as caught:
            calibration.check_use(serial, now)
        assert caught.value.remarks[0].code == code


def test_an_unfinished_sweep_is_refused_and_knows_what_is_missing():
    readings = read(NetworkTruth(SHEET, 3), WHOLE)
    readings.on[100:110] = np.nan
    assert list(readings.missing) == list(range(100, 110))
    with pytest.raises(Refused) as caught:
        fit_calibration(NETWORK, METER, readings, "B3", DATE, 23.0)
    assert caught.value.remarks[0].code == "sweep_incomplete"


def test_a_broken_reference_is_found():
    readings = read(NetworkTruth(SHEET, 4), WHOLE)
    third = WHOLE.range_index == 1
    readings.on[third] *= 0.97  # one range resistor 3 % off, thirty times its tolerance
    with pytest.raises(Refused) as caught:
        fit_calibration(NETWORK, METER, readings, "B4", DATE, 23.0)
    assert caught.value.remarks[0].code == "readings_contradict"


def hand(ratio, accuracy_pct):
    return [HandReading(x, 1e-4 * x, ratio * x, accuracy_pct) for x in (186.0, 5100.0)]


def test_a_workshop_meter_verifies_and_a_better_one_corrects(board):
    _, calibration = board
    usual = check_by_meter(calibration, hand(1.003, 0.8), "hand meter")
    assert not usual.corrected
    assert usual.calibration.series_ohm == calibration.series_ohm
    assert usual.calibration.meter == "hand meter"
    good = check_by_meter(calibration, hand(1.0005, 0.02), "bench meter")
    assert good.corrected
    assert good.scale == pytest.approx(1.0005)
    assert good.calibration.table_ohm[0][5] == pytest.approx(1.0005 * calibration.table_ohm[0][5])


def test_a_meter_that_contradicts_is_refused(board):
    with pytest.raises(Refused) as caught:
        check_by_meter(board[1], hand(1.05, 0.8), "old meter")
    assert caught.value.remarks[0].code == "meter_contradicts"
    with pytest.raises(Refused):
        check_by_meter(board[1], hand(1.0, 0.8)[:1], "old meter")


def test_the_node_closes_the_loop():
    # 1000 ohm set, known to 1 ohm; 5 V behind 1000 ohm exactly known: the node says 1002 +- 0.8 ohm.
    node_v = 5.0 * 1002 / 2002
    best = closed_loop(1000.0, 1.0, Thevenin(5.0, 1000.0), node_v, 0.001)
    u_node = 1000 * 5 / (5 - node_v) ** 2 * 0.001
    weight = (1 / u_node**2) / (1 / u_node**2 + 1)
    assert best.value == pytest.approx(1000 + 2 * weight, abs=1e-6)
    assert best.u == pytest.approx((1 / u_node**2 + 1) ** -0.5)
    vague = replace(Thevenin(5.0, 1000.0), u_rth_ohm=20.0)
    assert closed_loop(1000.0, 1.0, vague, node_v, 0.001).value == pytest.approx(1000.0, abs=0.01)


def test_a_board_without_an_ohmmeter_is_told_so():
    starter = read_board((asset_root("hardware/boards") / "starter.toml").read_text())
    with pytest.raises(Refused) as caught:
        Ohmmeter.from_board(starter)
    assert caught.value.remarks[0].code == "no_ohmmeter"
