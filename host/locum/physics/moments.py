"""Thermometer readings typed in during a recorded warm-up, each with the resistance of its moment."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.curve_base import KELVIN, Curve

WINDOW_S = 3.0
"""The recorded resistance at a moment is the median this long either side. [s]"""
USUAL_STEEPNESS = 3800.0
"""Beta assumed to turn a drift of ln R into kelvin a second where no curve is known. [K]"""


@dataclass(frozen=True)
class Moment:
    """One thermometer reading with the recorded resistance of its moment."""

    t_s: float
    celsius: float
    """Temperature of the sensor: the thermometer's, less the lag. [degC]"""
    ohms: float
    u_celsius: float
    """Everything not known of it, as temperature. [K]"""
    rate_k_per_s: float


def moments_of(
    t_s: np.ndarray,
    ohms: np.ndarray,
    thermometer: Sequence[tuple[float, float]],
    prior: Curve | None,
    u_celsius: float,
    u_time_s: float,
    meter_pct: float,
    lag_s: float,
) -> list[Moment]:
    """The thermometer's readings with resistance, rate and uncertainty; Refused outside the record."""
    _refuse_unusable(t_s, ohms, thermometer)
    moments = []
    for at_s, celsius in thermometer:
        near = np.abs(t_s - at_s) <= WINDOW_S
        near[int(np.argmin(np.abs(t_s - at_s)))] = True
        ohm = float(np.median(ohms[near]))
        per_k = _steepness(prior, ohm, celsius)
        rate = _log_rate(t_s, ohms, at_s) / per_k
        parts = (
            u_celsius,
            rate * u_time_s,
            meter_pct / 100 / np.sqrt(3) / per_k,
            0.5 * rate * lag_s / np.sqrt(3),
        )
        spread = float(np.sqrt(sum(part**2 for part in parts)))
        moments.append(Moment(at_s, celsius - rate * lag_s, ohm, spread, rate))
    return moments


def _steepness(prior: Curve | None, ohm: float, celsius: float) -> float:
    """d ln R/dT. [1/K]"""
    if prior is None:
        return -USUAL_STEEPNESS / (celsius + KELVIN) ** 2
    at = float(np.clip(celsius, *prior.domain_c))
    return float(prior.slope_ohm_per_k(at)) / float(prior.resistance_ohm(at))


def _log_rate(t_s: np.ndarray, ohms: np.ndarray, at_s: float, reach_s: float = 15.0) -> float:
    """d ln R/dt around a moment, from a straight line through the record. [1/s]"""
    near = np.abs(t_s - at_s) <= reach_s
    if np.count_nonzero(near) < 3:
        near = np.argsort(np.abs(t_s - at_s))[:3]
    t, ln_ohm = t_s[near] - at_s, np.log(ohms[near])
    centred = t - t.mean()
    spread = float(centred @ centred)
    return float(centred @ ln_ohm) / spread if spread > 0 else 0.0


def _refuse_unusable(
    t_s: np.ndarray, ohms: np.ndarray, thermometer: Sequence[tuple[float, float]]
) -> None:
    faults = [*_record_faults(t_s, ohms), *_too_few(thermometer)]
    if faults:
        raise Refused(faults)
    outside = _outside(t_s, thermometer)
    if outside:
        raise Refused(outside)


def _record_faults(t_s: np.ndarray, ohms: np.ndarray) -> list[Remark]:
    if len(t_s) < 3 or t_s.shape != ohms.shape or np.any(np.diff(t_s) <= 0):
        return [
            Remark(
                "bad_record",
                "recording",
                "three samples or more with rising times",
                f"{t_s.size} times, {ohms.size} values",
            )
        ]
    unusable = np.count_nonzero(~(np.isfinite(ohms) & (ohms > 0)))
    if not unusable:
        return []
    return [
        Remark(
            "bad_record",
            "recording",
            "resistances above zero",
            f"{unusable} that are not",
            "cut the open and shorted stretches out first",
        )
    ]


def _too_few(thermometer: Sequence[tuple[float, float]]) -> list[Remark]:
    if len(thermometer) >= 2:
        return []
    return [
        Remark(
            "too_few_readings",
            "thermometer",
            "two readings or more during the warm-up",
            str(len(thermometer)),
            "read the thermometer cold, half way and warm",
        )
    ]


def _outside(t_s: np.ndarray, thermometer: Sequence[tuple[float, float]]) -> list[Remark]:
    """Each reading whose moment is not in the recording."""
    return [
        Remark(
            "outside_record",
            f"thermometer reading at {at_s:g} s",
            f"a moment in the recording, {t_s[0]:g} to {t_s[-1]:g} s",
            f"{at_s:g} s",
            "check the clock of the reading",
        )
        for at_s, _ in thermometer
        if not t_s[0] - WINDOW_S <= at_s <= t_s[-1] + WINDOW_S
    ]
