"""Few readings of one sensor: a curve from them, and whether the sensor is good."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy.typing as npt

from locum.errors import Remark
from locum.physics.band import Band
from locum.physics.curve_base import Curve
from locum.physics.fit import Fit

Judgement = Literal["in", "out", "inconclusive"]


@dataclass(frozen=True)
class Reading:
    """One reading of a sensor: a thermometer and an ohmmeter at the same moment."""

    celsius: float
    ohms: float
    u_celsius: float = 0.5
    """Standard uncertainty of the temperature at the sensor. [K]"""
    u_ohms: float | None = None
    """Standard uncertainty of the resistance; None takes the meter's given to the call. [ohm]"""


@dataclass(frozen=True)
class JudgedReading:
    """A reading against the band, as resistance and as temperature."""

    reading: Reading
    low_ohm: float
    high_ohm: float
    """The limits at the reading's temperature. [ohm]"""
    expanded_ohm: float
    """U (k = 2) of the reading with the thermometer's part. [ohm]"""
    off_c: float
    """Temperature by the centre curve minus the thermometer's. [K]"""
    expanded_c: float
    """U (k = 2) of ``off_c``. [K]"""
    judgement: Judgement


@dataclass(frozen=True)
class SensorJudgement:
    """The verdict on one sensor, with every reading's own."""

    judgement: Judgement
    readings: tuple[JudgedReading, ...]
    warnings: tuple[Remark, ...]
    sentence: str


def curve_from_readings(readings: Sequence[tuple[float, float]]) -> Fit:
    """Curve from readings (degC, ohm): 1 by the usual beta, 2 by beta, 3 or more by ntc."""
    raise NotImplementedError


def judge_sensor(
    published: Band | Fit | Curve,
    readings: Sequence[Reading | tuple[float, float]],
    meter_pct: float = 0.5,
    meter_digits_ohm: float = 0.0,
    u_celsius: float = 0.5,
    tolerance_pct: float | None = None,
) -> SensorJudgement:
    """Measured readings of one sensor against its published band."""
    raise NotImplementedError


def learn_on_car(
    t_s: npt.ArrayLike,
    ohms: npt.ArrayLike,
    thermometer: Sequence[tuple[float, float]],
    prior: Curve | None = None,
    u_celsius: float = 1.0,
    u_time_s: float = 5.0,
    meter_pct: float = 0.5,
    lag_s: float = 0.0,
) -> Fit:
    """This sensor's own curve from a recorded warm-up and thermometer readings typed in."""
    raise NotImplementedError
