"""Recorded engine warm-ups against the one-lump physics and its limits.

Source: data/warmup_*.csv (see data/SOURCES.md): coolant in whole degrees, a 1.5 l engine, two drives and one at idle.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from locum.physics.curve import NtcCurve
from locum.physics.readings import learn_on_car
from locum.physics.warmup import fitted_warmup, warmup_c

DATA = Path(__file__).parent / "data"
NAMES = ("warmup_drive_a", "warmup_drive_b", "warmup_idle_a")


def recorded(name: str) -> tuple[np.ndarray, np.ndarray]:
    with (DATA / f"{name}.csv").open(newline="") as file:
        rows = [(float(row["run_time_s"]), float(row["coolant_c"])) for row in csv.DictReader(file)]
    t, celsius = np.array(rows).T
    return t, celsius


def rising(name: str) -> tuple[np.ndarray, np.ndarray]:
    """The record up to the thermostat's opening, 80 degC (makers state 80 to 84)."""
    t, celsius = recorded(name)
    end = int(np.argmax(celsius >= 80)) if np.any(celsius >= 80) else len(t)
    return t[:end], celsius[:end]


@pytest.mark.parametrize("name", NAMES)
def test_one_lump_follows_a_recorded_warm_up(name):
    t, celsius = rising(name)
    start, end, tau, rms = fitted_warmup(t, celsius)
    # Whole degrees alone leave 0.29 K; engine load changes do the rest.
    assert rms < 1.6
    assert start == pytest.approx(celsius[0], abs=4.0)
    assert end > celsius.max()
    assert 60 < tau < 3000
    assert np.abs(warmup_c(t - t[0], start, end, tau) - celsius).max() < 5.0


@pytest.mark.parametrize("name", NAMES)
def test_no_recorded_warm_up_is_faster_than_physics_allows(name):
    t, celsius = recorded(name)
    # Over 30 s, so that whole degrees do not count as slope: at most 0.4 K/s for normal signals.
    over = np.interp(t[t < t[-1] - 30] + 30, t, celsius) - celsius[t < t[-1] - 30]
    assert over.max() / 30 < 0.4


@pytest.mark.parametrize("name", NAMES)
def test_a_curve_is_learnt_from_a_recorded_warm_up(name):
    t, celsius = recorded(name)
    smooth = np.convolve(np.pad(celsius, 8, mode="edge"), np.full(17, 1 / 17), mode="valid")
    published = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7, span_c=(-40.0, 140.0))
    own = NtcCurve(published.a - np.log(1.08) * published.b, published.b * 0.998, published.c)
    moments = np.linspace(t[3], t[-4], 5)
    typed = [(float(s), round(float(np.interp(s, t, smooth)))) for s in moments]
    fit = learn_on_car(t, own.resistance_ohm(smooth), typed, published, u_celsius=0.5, u_time_s=2.0)
    at = np.linspace(smooth.min(), smooth.max(), 9)
    off = np.abs(fit.curve.temperature_c(own.resistance_ohm(at)) - at)
    assert np.all(off <= 2 * fit.curve.u_temperature_c(at))
    unlearnt = np.abs(published.temperature_c(own.resistance_ohm(at)) - at)
    assert off.max() < 0.7 * unlearnt.max()
