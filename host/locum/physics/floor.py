"""The short sweep before each stretch: what has changed since the calibration.

Only differences from the same readings during the calibration are used, so the converter's and the
references' faults fall out. Unknowns: for each wiper its switch and a scale of its ladder, the
series part, and the two leakages, which double every 10 K. A warm day is thus measured in two
seconds instead of being allowed for.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.calibration import Calibration
from locum.physics.calibration_model import NOISE_LSB
from locum.physics.network import Network
from locum.physics.ohmmeter import Ohmmeter
from locum.physics.sweep import Readings

MOST_TURNS = 6
SETTLED = 1e-3
"""Of a standard uncertainty: the fit ends when no unknown moves by more. Three turns are usual."""
SWITCH_OHM, SCALE, SERIES_OHM, METER_LEAK_NA, OUT_LEAK_NS = 10.0, 3e-3, 0.5, 300.0, 200.0
"""Standard deviations of the unknowns beforehand: wide."""
REPEAT_LSB = 0.05
"""What two readings of one state differ by besides noise."""
DRIFT_AFTER_FLOOR = {
    "wiper_part": 0.0, "wiper_ohm": 0.3, "scale": 2.5e-4, "series_ohm": 0.08, "reference": 2.9e-4,
    "warming_k": 1.7,
}  # fmt: skip
"""The same after the short sweep. ``warming_k``: a board that was just plugged in warms by up to 5 K
while the stretch lasts. ``scale`` is for 10 kohm and grows with the root of the ladder:
what leakage does to a reading grows with the resistance, and moves it to another place of the
converter's shape."""


def with_floor(
    calibration: Calibration, network: Network, meter: Ohmmeter, readings: Readings, date_utc: str
) -> Calibration:
    """The calibration after the short sweep: wipers, ladders and series part as they are now.

    Parameters
    ----------
    calibration : Calibration
        As fitted, or after an earlier short sweep, which this one then replaces.
    network : Network
        Nominal.
    meter : Ohmmeter
    readings : Readings
        Of :func:`~locum.physics.sweep.floor_sweep`.
    date_utc : str
    """
    _refuse_incomplete(calibration, readings)
    calibration = _unshifted(calibration)
    found = _changes(calibration, network, meter, readings)
    return _shifted(calibration, found, date_utc)


def _refuse_incomplete(calibration: Calibration, readings: Readings) -> None:
    if len(readings.missing) or len(readings.on) != len(calibration.reference_on):
        raise Refused(
            Remark(
                "floor_incomplete",
                f"board {calibration.board_serial}",
                f"{len(calibration.reference_on)} readings of the short sweep",
                f"{len(readings.on) - len(readings.missing)}",
                "measure the floor again",
            )
        )


def _changes(
    calibration: Calibration, network: Network, meter: Ohmmeter, readings: Readings
) -> np.ndarray:
    """The unknowns that explain the short sweep, in the order of :func:`_floor_counts`.

    Gauss and Newton's way from no change at all, each unknown held by what was believed beforehand.
    """
    change = readings.on - calibration.reference_on
    weight = 1.0 / (2 * (NOISE_LSB**2 + 1 / 12) / readings.sweep.samples + REPEAT_LSB**2)
    w = len(network.wipers)
    prior = np.array(
        [SWITCH_OHM] * w + [SCALE] * w + [SERIES_OHM, METER_LEAK_NA, OUT_LEAK_NS], float
    )
    found = np.zeros(len(prior))
    before = _floor_counts(calibration, meter, readings, found)
    for _ in range(MOST_TURNS):
        here = _floor_counts(calibration, meter, readings, found)
        nudged = [
            (_floor_counts(calibration, meter, readings, found + nudge) - here) / nudge.sum()
            for nudge in np.diag(1e-3 * prior)
        ]
        design = np.stack(nudged, axis=1)
        normal = (design * weight[:, None]).T @ design + np.diag(prior**-2)
        miss = change - (here - before)
        covariance = np.linalg.inv(normal)
        step = covariance @ (design.T @ (weight * miss) - found / prior**2)
        found = found + step
        if np.all(step**2 <= SETTLED**2 * np.diag(covariance)):
            break
    return found


def _floor_counts(calibration: Calibration, meter: Ohmmeter, readings: Readings, by) -> np.ndarray:
    """Counts [n] of the short sweep with a faultless converter, the board changed ``by``: per wiper
    its switch [ohm], per wiper its ladder's scale, the series part [ohm], the leakage of the meter
    [nA] and of each wiper that left [nS, on average]."""
    sweep, w = readings.sweep, len(calibration.table_ohm)
    rk = np.asarray(meter.ranges_ohm)[sweep.range_index]
    series = calibration.series_ohm + by[2 * w]
    leaks = np.asarray(calibration.out_siemens)
    leaks = leaks * (1.0 + 1e-9 * by[2 * w + 2] / max(float(leaks.mean()), 1e-12))
    hot = (sweep.hot[:, None] >> np.arange(len(calibration.hot_ohm))) & 1
    fixed = sweep.out @ leaks + hot @ (1.0 / np.asarray(calibration.hot_ohm))
    net = 1.0 / np.maximum(fixed, 1e-9)
    for _ in range(4):
        siemens = fixed.copy()
        net_v = meter.vref_v * net / (net + series + rk)
        for index, table in enumerate(calibration.table_ohm):
            switch, scale = by[index], by[w + index]
            grown = calibration.grown_ohm(index, net_v) * (1.0 + switch / table[0])
            ladder = table[sweep.codes[:, index]] - table[0]
            ohm = table[0] + switch + ladder * (1.0 + scale) + grown
            siemens += np.where(sweep.out[:, index], 0.0, 1.0 / ohm)
        net = 1.0 / siemens
    ratio = (net + series) / (net + series + rk)
    return meter.counts * ratio * (1.0 + 1e-9 * by[2 * w + 1] * rk / meter.vref_v)


def _shifted(calibration: Calibration, found: np.ndarray, date_utc: str) -> Calibration:
    moved = _moved(calibration, found)
    return replace(
        moved,
        drift=dict(DRIFT_AFTER_FLOOR),
        floor_date_utc=date_utc,
        floor_shift=found,
    )


def _moved(calibration: Calibration, by: np.ndarray) -> Calibration:
    w = len(calibration.table_ohm)
    tables, laws, knots = [], [], []
    for index, table in enumerate(calibration.table_ohm):
        switch, scale = by[index], by[w + index]
        tables.append(table[0] + switch + (table - table[0]) * (1.0 + scale))
        swell = 1.0 + switch / table[0]
        laws.append(float(calibration.law_ohm[index] * swell))
        knots.append(calibration.law_knots_ohm[index] * swell)
    # Leakage grows by a factor, and the part of it that is not known with it.
    mean = float(np.mean(calibration.out_siemens))
    leaking = float(np.clip((mean + 1e-9 * by[-1]) / mean, 0.01, 100.0)) if mean > 0 else 1.0
    return replace(
        calibration,
        table_ohm=tuple(tables),
        law_ohm=tuple(laws),
        law_knots_ohm=np.array(knots),
        series_ohm=calibration.series_ohm + float(by[2 * w]),
        out_siemens=tuple(leak * leaking for leak in calibration.out_siemens),
        out_factor=calibration.out_factor * leaking,
    )


def _unshifted(calibration: Calibration) -> Calibration:
    """The calibration as it was before its last short sweep."""
    if not len(calibration.floor_shift):
        return calibration
    w = len(calibration.table_ohm)
    back = -calibration.floor_shift
    scale = calibration.floor_shift[w : 2 * w]
    back[w : 2 * w] = 1.0 / (1.0 + scale) - 1.0
    return replace(_moved(calibration, back), floor_shift=np.zeros(0), floor_date_utc="")
