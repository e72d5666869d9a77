"""Points of a sensor to a curve, with residuals and covariance, and every doubt about them said.

>>> fit = fit_curve([0, 40, 100], [5975, 1152, 175.7])
>>> fit.kind, round(fit.curve.resistance_ohm(80.0), 3)
('ntc', 308.556)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from locum.errors import Misuse, Refused, Remark
from locum.physics.band import Band
from locum.physics.curve import KINDS, Curve, TableCurve
from locum.physics.curve_base import THERMISTOR_DOMAIN_C
from locum.physics.fit_metal import fitted_platinum, fitted_silicon
from locum.physics.fit_points import PLATINUM_DOMAIN_C, Points, chosen_kind, prepared
from locum.physics.fit_thermistor import fitted_beta, fitted_ntc
from locum.physics.judge import BETA_REACH_K, point_remarks, refuse_unusable

THERMISTOR_KINDS = ("ntc", "beta", "silicon")

EXPLAINING = {"turns_back", "outlier", "mixed_units", "looks_swapped", "looks_like_fahrenheit"}
"""Warnings that explain why no curve came out, and are told with the refusal."""


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
    left_out_c: float | None = None
    """For a table: worst miss of a row by the table made of the others. [K]"""

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
            "left_out_c": self.left_out_c,
        }


def fit_curve(
    celsius: npt.ArrayLike,
    ohms: npt.ArrayLike | None = None,
    kind: str = "ntc",
    weights: npt.ArrayLike | None = None,
    ohms_low: npt.ArrayLike | None = None,
    ohms_high: npt.ArrayLike | None = None,
    u_celsius: npt.ArrayLike | None = None,
    labels: Sequence[str] | None = None,
) -> Fit:
    """The curve of a kind nearest to points.

    Parameters
    ----------
    celsius : array
        Temperatures, in any order. [degC]
    ohms : array, optional
        Resistances; without them the geometric means of the limits are the centre. [ohm]
    kind : str
        ``ntc``, ``beta``, ``table``, ``platinum``, ``silicon``, or ``auto`` for the one the points look
        like. ``ntc`` with two points falls back to ``beta`` and says so.
    weights : array, optional
        Relative weights of the rows' squared misses; alike if missing.
    ohms_low, ohms_high : arrays, optional
        Limits of a published table: they become the fit's band. [ohm]
    u_celsius : array or float, optional
        Standard uncertainty of each row as temperature, for measured readings. It sets the weights
        (unless ``weights`` does) and goes into the covariance; without it the rounding of the
        resistances does. [K]
    labels : sequence of str, optional
        How remarks call each row, such as ``line 7``.

    Returns
    -------
    Fit

    Raises
    ------
    Refused
        With all faults at once, where no curve of the kind exists.
    Misuse
        For an unknown kind.
    """
    points = prepared(celsius, ohms, ohms_low, ohms_high, u_celsius, weights, labels)
    if kind not in (*KINDS, "auto"):
        raise Misuse(Remark("unknown_kind", "kind", ", ".join((*KINDS, "auto")), kind))
    domain = THERMISTOR_DOMAIN_C if kind in THERMISTOR_KINDS else PLATINUM_DOMAIN_C
    refuse_unusable(points.celsius, points.ohms, points.labels, domain)
    chosen, remarks = chosen_kind(kind, points)
    if len(np.unique(points.celsius)) > 1:
        remarks += point_remarks(points.celsius, points.ohms, points.labels, points.said_step_ohm)
    try:
        curve, said = _fitted(chosen, points)
    except Refused as refused:
        told = [remark for remark in remarks if remark.code in EXPLAINING]
        raise Refused([*refused.remarks, *told]) from None
    residuals = curve._celsius(points.ohms) - points.celsius
    band, about_band = points.band()
    return Fit(
        curve=curve,
        kind=chosen,
        coefficients=curve.coefficients,
        covariance=getattr(curve, "covariance", None),
        celsius=points.celsius,
        ohms=points.ohms,
        residuals_c=residuals,
        rms_c=float(np.sqrt(np.mean(residuals**2))),
        worst_c=float(np.max(np.abs(residuals))),
        warnings=[*remarks, *said, *about_band],
        band=band,
        left_out_c=left_out_c(points.celsius, points.ohms) if chosen == "table" else None,
    )


def _fitted(kind: str, points: Points) -> tuple[Curve, list[Remark]]:
    data = (points.celsius, points.ohms, points.weights, points.known_u_c)
    if kind == "ntc":
        return fitted_ntc(*data)
    if kind == "beta":
        return _beta(points)
    if kind == "platinum":
        return fitted_platinum(*data)
    if kind == "silicon":
        return fitted_silicon(*data)
    return _table(points)


def _beta(points: Points) -> tuple[Curve, list[Remark]]:
    curve = fitted_beta(points.celsius, points.ohms, points.weights, points.known_u_c)
    low, high = curve.span_c
    if high - low <= 2 * BETA_REACH_K or len(points.celsius) < 3:
        return curve, []
    return curve, [
        Remark(
            "beta_far_from_points",
            "beta curve",
            f"points within {2 * BETA_REACH_K:g} K of one another for one beta",
            f"{low:g} to {high:g} degC, over which beta drifts",
            "fit ntc instead, which follows the drift",
        )
    ]


def _table(points: Points) -> tuple[Curve, list[Remark]]:
    unique = np.unique(points.celsius)
    ln_ohm = np.log(points.ohms)
    means = [float(np.exp(ln_ohm[points.celsius == t].mean())) for t in unique]
    worth = [float(points.known_u_c[points.celsius == t].max()) for t in unique]
    rows = tuple(zip((float(t) for t in unique), means, strict=True))
    remarks = []
    if len(unique) < len(points.celsius):
        remarks.append(
            Remark(
                "same_temperature",
                "table curve",
                "one row for each temperature",
                f"{len(points.celsius) - len(unique)} rows of a temperature already given",
                "their mean is used",
            )
        )
    return TableCurve(rows, tuple(worth)), remarks


def left_out_c(celsius: np.ndarray, ohms: np.ndarray) -> float | None:
    """Worst miss of an inner row by the table made of the other rows: what interpolation costs. [K]"""
    order = np.argsort(celsius)
    t, r = celsius[order], ohms[order]
    if len(np.unique(t)) < 4 or len(np.unique(t)) < len(t):
        return None
    misses = []
    for i in range(1, len(t) - 1):
        others = np.delete(np.arange(len(t)), i)
        table = TableCurve(tuple((float(t[j]), float(r[j])) for j in others))
        misses.append(abs(float(table.temperature_c(r[i])) - t[i]))
    return float(max(misses))
