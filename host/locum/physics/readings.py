"""Few readings of one sensor: a curve from them, and the record of one reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.band import Band
from locum.physics.curve import BetaCurve
from locum.physics.curve_base import KELVIN
from locum.physics.figures import plain
from locum.physics.fit import Fit, fit_curve
from locum.physics.judge import refuse_unusable, row_labels
from locum.physics.judge_sensor import (
    JudgedReading,
    Judgement,
    Reading,
    SensorJudgement,
    judge_sensor,
)
from locum.physics.learn import learn_on_car

__all__ = [
    "JudgedReading",
    "Judgement",
    "Reading",
    "SensorJudgement",
    "UsualBeta",
    "curve_from_readings",
    "judge_sensor",
    "learn_on_car",
]


@dataclass(frozen=True)
class UsualBeta:
    """Range of beta of vehicle thermistors: 3400 to 4300 K in the tables kept with the tests."""

    low_k: float = 3200.0
    high_k: float = 4400.0

    @property
    def middle_k(self) -> float:
        return 0.5 * (self.low_k + self.high_k)


CLOSE_C = 15.0
"""Readings nearer to one another than this say little of the slope. [K]"""


def curve_from_readings(
    readings: Sequence[tuple[float, float] | Reading],
    u_celsius: float = 0.5,
    usual: UsualBeta | None = None,
) -> Fit:
    """Curve from readings of one sensor.

    Parameters
    ----------
    readings : sequence of (degC, ohm) or Reading
        One gives the usual beta, with the range it leaves as the fit's band; two give their own
        beta; three or more Steinhart and Hart's curve. Two or more that rise give platinum or silicon.
    u_celsius : float
        Standard uncertainty of each reading as temperature, above zero. [K]
    usual : UsualBeta, optional
        Range of beta a lone reading is given.

    Raises
    ------
    Refused
        If no curve passes through the readings.
    """
    pairs = [(r.celsius, r.ohms) if isinstance(r, Reading) else r for r in readings]
    celsius = np.array([celsius for celsius, _ in pairs], dtype=float)
    ohms = np.array([ohm for _, ohm in pairs], dtype=float)
    labels = [label.replace("row", "reading") for label in row_labels(len(pairs))]
    if len(pairs) == 1:
        refuse_unusable(celsius, ohms, labels)
        return _from_one(celsius, ohms, u_celsius, usual or UsualBeta())
    fit = fit_curve(celsius, ohms, kind="auto", u_celsius=u_celsius, labels=labels)
    remarks = _closeness(celsius)
    if isinstance(fit.curve, BetaCurve):
        remarks += _beta_remarks(fit.curve, usual or UsualBeta())
    return _with_warnings(fit, remarks)


def _from_one(celsius: np.ndarray, ohms: np.ndarray, u_celsius: float, usual: UsualBeta) -> Fit:
    t, r = float(celsius[0]), float(ohms[0])
    u_beta = (usual.high_k - usual.low_k) / np.sqrt(12.0)
    u_ln = usual.middle_k * u_celsius / (t + KELVIN) ** 2
    covariance = np.diag([u_ln**2, u_beta**2])
    curve = BetaCurve(usual.middle_k, r, t, (t, t), covariance)
    low, high = (BetaCurve(beta, r, t, (t, t)) for beta in (usual.low_k, usual.high_k))
    band = Band(low, high, f"beta {usual.low_k:g} to {usual.high_k:g} K through one reading")
    return Fit(
        curve=curve,
        kind="beta",
        coefficients=curve.coefficients,
        covariance=covariance,
        celsius=celsius,
        ohms=ohms,
        residuals_c=np.zeros(1),
        rms_c=0.0,
        worst_c=0.0,
        warnings=[_one_reading_remark(band, t)],
        band=band,
    )


def _one_reading_remark(band: Band, t: float) -> Remark:
    far = 90.0 if t < 60 else 20.0
    low, high = band.limits_ohm(far)
    return Remark(
        "one_reading",
        "readings",
        "two readings or more, far apart",
        f"one, so the sensor may have {plain(low)} to {plain(high)} ohm at {far:g} degC, "
        f"+-{band.half_width_c(far):.2g} K",
        "take a second reading when the sensor is warm, or give its table",
    )


def _closeness(celsius: np.ndarray) -> list[Remark]:
    span = float(np.ptp(celsius))
    if span >= CLOSE_C:
        return []
    if span == 0:
        raise Refused(
            Remark(
                "same_temperature",
                "readings",
                "readings at different temperatures",
                f"all at {celsius[0]:g} degC",
                "give one of them, or take another when the sensor is warm",
            )
        )
    return [
        Remark(
            "close_readings",
            "readings",
            f"readings {CLOSE_C:g} K or more apart",
            f"{span:.3g} K",
            "take one when the sensor is warm",
        )
    ]


def _beta_remarks(curve: BetaCurve, usual: UsualBeta) -> list[Remark]:
    if usual.low_k * 0.9 <= curve.beta_k <= usual.high_k * 1.1:
        return []
    return [
        Remark(
            "unusual_beta",
            "readings",
            f"beta of {usual.low_k:g} to {usual.high_k:g} K, as vehicle thermistors have",
            f"{curve.beta_k:.4g} K",
            "check both readings and their units",
        )
    ]


def _with_warnings(fit: Fit, remarks: list[Remark]) -> Fit:
    if remarks:
        fit.warnings.extend(remarks)
    return fit
