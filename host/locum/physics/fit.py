"""Points of a sensor to a curve, with residuals and covariance."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from locum.errors import Remark
from locum.physics.band import Band
from locum.physics.curve_base import Curve


@dataclass(frozen=True)
class Fit:
    """A curve and how well it meets its points."""

    curve: Curve
    kind: str
    """``ntc``, ``beta``, ``table``, ``platinum`` or ``silicon``."""
    coefficients: dict[str, float]
    covariance: np.ndarray | None
    """Of the coefficients, in the order the curve's class states; None for a table."""
    celsius: np.ndarray
    """The points' temperatures, as used. [degC]"""
    ohms: np.ndarray
    """The points' resistances, or the centres of their limits. [ohm]"""
    residuals_c: np.ndarray
    """Curve's temperature at the point's ohms minus the point's temperature. [K]"""
    rms_c: float
    worst_c: float
    """Largest absolute residual. [K]"""
    warnings: list[Remark] = field(default_factory=list)
    band: Band | None = None
    """The published limits, where the points have them, or the range one reading leaves."""

    def to_dict(self) -> dict[str, Any]:
        """The fields of ``locum sensor fit --json``."""
        return {
            "kind": self.kind,
            "coefficients": self.coefficients,
            "rms_c": self.rms_c,
            "worst_c": self.worst_c,
            "residuals_c": [float(value) for value in self.residuals_c],
            "warnings": [remark.as_json() for remark in self.warnings],
            "span_c": list(self.curve.span_c),
        }


def fit_curve(
    celsius: npt.ArrayLike,
    ohms: npt.ArrayLike | None = None,
    kind: str = "ntc",
    weights: npt.ArrayLike | None = None,
    ohms_low: npt.ArrayLike | None = None,
    ohms_high: npt.ArrayLike | None = None,
) -> Fit:
    """The curve of a kind nearest to points (see module docstring)."""
    raise NotImplementedError
