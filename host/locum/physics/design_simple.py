"""What a single part reaches in a sensor's place: one potentiometer, or resistors plugged in by hand.

Nominal values, the nearest one to every temperature of the range. A step error only: supply, current
and the sensor's own warmth speak against most of these as well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.physics.pot import rheostat_table_ohm

GRID_K = 0.25
WIPER_OHM, TAPS = 75.0, 257
E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
E24 = (
    10,
    11,
    12,
    13,
    15,
    16,
    18,
    20,
    22,
    24,
    27,
    30,
    33,
    36,
    39,
    43,
    47,
    51,
    56,
    62,
    68,
    75,
    82,
    91,
)
"""IEC 60063."""


@dataclass(frozen=True)
class Simple:
    """One way, over the part of the range that it reaches."""

    what: str
    from_c: float
    to_c: float
    """Coldest and hottest temperature reached; NaN if none. [degC]"""
    reached: float
    """Part of the range, 0..1."""
    worst_error_c: float
    rms_error_c: float


def simple_ways(curve, from_c: float, to_c: float) -> list[Simple]:
    """One 5 kohm and one 10 kohm potentiometer, and fixed resistors of E12 and E24."""
    low, high = min(from_c, to_c), max(from_c, to_c)
    celsius = np.linspace(low, high, max(int((high - low) / GRID_K), 1) + 1)
    decades = 10.0 ** np.arange(0, 6)
    ways = {
        "one 5 kohm potentiometer": rheostat_table_ohm(5e3, WIPER_OHM, TAPS),
        "one 10 kohm potentiometer": rheostat_table_ohm(10e3, WIPER_OHM, TAPS),
        "a fixed resistor, E12": np.multiply.outer(decades, E12).reshape(-1),
        "a fixed resistor, E24": np.multiply.outer(decades, E24).reshape(-1),
    }
    return [_simple(what, values, curve, celsius) for what, values in ways.items()]


def _simple(what: str, values: np.ndarray, curve, celsius: np.ndarray) -> Simple:
    ohm = np.asarray(curve.resistance_ohm(celsius), float)
    within = (ohm >= values[0]) & (ohm <= values[-1])
    if not within.any():
        return Simple(what, float("nan"), float("nan"), 0.0, float("nan"), float("nan"))
    at, wanted = celsius[within], ohm[within]
    above = np.clip(np.searchsorted(values, wanted), 1, len(values) - 1)
    # ln R by the slope: a neighbour outside the curve's domain must still have a number.
    steepness = np.abs(np.asarray(curve.slope_ohm_per_k(at), float)) / wanted
    miss = np.stack([np.log(values[above - 1] / wanted), np.log(values[above] / wanted)])
    error = np.abs(miss).min(axis=0) / steepness
    return Simple(what, float(at.min()), float(at.max()), float(within.mean()),
                  float(error.max()), float(np.sqrt(np.mean(error**2))))  # fmt: skip
