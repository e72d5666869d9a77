"""Two readings by a hand meter: does the board's own calibration stand, or shall its scale move?

The board's scale rests on three 0.1 % resistors. A bench meter of 0.02 % knows better and corrects
it; a meter of 0.8 % can only find gross faults. Both are one weighted mean of ratios.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.calibration import Calibration

OWN_SCALE_PCT = 0.035
"""Standard uncertainty of a fitted board's scale; three references and two branches of 0.1 %."""


@dataclass(frozen=True)
class HandReading:
    """One state measured by hand at the stand-in's terminals, board at rest, leads nulled."""

    set_ohm: float
    """What the calibration says the state has. [ohm]"""
    u_set_ohm: float
    """Its standard uncertainty without the scale. [ohm]"""
    meter_ohm: float
    """What the meter showed. [ohm]"""
    accuracy_pct: float
    """The meter's accuracy of reading, half-width. [%]"""
    digits_ohm: float = 0.0
    """What its last digits are worth, half-width. [ohm]"""


@dataclass(frozen=True)
class MeterCheck:
    """Outcome of the comparison."""

    calibration: Calibration
    """With the scale moved where the meter knows better, else as it was; the meter named."""
    scale: float
    """Factor between the meter's scale and the board's."""
    u_scale: float
    """Standard uncertainty of that factor."""
    corrected: bool


def check_by_meter(
    calibration: Calibration, readings: Sequence[HandReading], meter: str
) -> MeterCheck:
    """Compare with a hand meter, at two or more states far apart.

    Raises
    ------
    Refused
        If there are fewer than two readings, or meter and board contradict each other by more than
        three standard uncertainties: one of them is wrong, and nobody can say which.
    """
    if len(readings) < 2:
        raise Refused(
            Remark(
                "too_few_readings", meter, "two readings, one low and one high",
                str(len(readings)), "measure the second state as well",
            )
        )  # fmt: skip
    ratio = np.array([r.meter_ohm / r.set_ohm for r in readings])
    gain = np.array([r.accuracy_pct for r in readings]) / 100 / np.sqrt(3)
    single = np.array(
        [np.hypot(r.u_set_ohm, r.digits_ohm / np.sqrt(3)) / r.set_ohm for r in readings]
    )
    # The meter's gain error is common to its readings; digits and the states' own errors are not.
    covariance = np.outer(gain, gain) + np.diag(single**2)
    inverse = np.linalg.inv(covariance)
    u_scale = float(1.0 / np.sqrt(inverse.sum()))
    scale = float(inverse.sum(axis=0) @ ratio * u_scale**2)
    apart = ratio - 1.0
    allowed = 3.0 * np.sqrt(np.diag(covariance) + (OWN_SCALE_PCT / 100) ** 2)
    worst = int(np.argmax(np.abs(apart) / allowed))
    if abs(apart[worst]) > allowed[worst]:
        r = readings[worst]
        raise Refused(
            Remark(
                "meter_contradicts",
                meter,
                f"{r.set_ohm:.5g} ohm within {100 * allowed[worst]:.2f} %",
                f"{r.meter_ohm:.5g} ohm, {100 * apart[worst]:+.2f} % off",
                "null the leads, check range and battery of the meter, then calibrate again",
            )
        )
    corrected = u_scale < OWN_SCALE_PCT / 100
    moved = calibration.scaled(scale if corrected else 1.0, meter)
    return MeterCheck(moved, scale, u_scale, corrected)
