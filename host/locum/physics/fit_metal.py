"""Fits of sensors whose resistance rises: platinum (R0 only) and silicon (a polynomial)."""

from __future__ import annotations

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.curve_platinum import TOLERANCE_CLASSES, PlatinumCurve
from locum.physics.curve_silicon import REFERENCE_C, SiliconCurve
from locum.physics.fit_thermistor import form_u_c
from locum.physics.judge import local_slope_ohm_per_k
from locum.physics.least_squares import solved

MOST_TERMS = 5
GOOD_ENOUGH_C = 0.15
"""A polynomial that misses by less than this at worst gets no further term. [K]"""
SCALE_K = 100.0
"""Temperatures are divided by this while solving, which keeps the powers of like size."""


def fitted_platinum(
    celsius: np.ndarray, ohms: np.ndarray, weights: np.ndarray | None, known_u_c: np.ndarray
) -> tuple[PlatinumCurve, list[Remark]]:
    """R0 of a platinum sensor; A, B and C stay the standard's.

    Rows weigh alike in R/R0, so R0 is the weighted mean of R over the standard's ratio.
    """
    unit = PlatinumCurve(1.0)
    ratio = unit.ratio(celsius)
    relative_u = known_u_c * unit._ratio_slope(celsius) / ratio
    known = relative_u * ohms / ratio
    mean = solved(np.ones((len(ohms), 1)), ohms / ratio, weights, known)
    span = (float(celsius.min()), float(celsius.max()))
    curve = PlatinumCurve(float(mean.values[0]), float(np.sqrt(mean.covariance[0, 0])), span_c=span)
    misses = (curve.ratio(celsius) * curve.r0_ohm - ohms) / (
        curve.r0_ohm * unit._ratio_slope(celsius)
    )
    form = form_u_c(misses, known_u_c, mean.freedom)
    curve = PlatinumCurve(curve.r0_ohm, curve.u_r0_ohm, span_c=span, u_form_c=form)
    return curve, _platinum_remarks(celsius, misses)


def _platinum_remarks(celsius: np.ndarray, misses_c: np.ndarray) -> list[Remark]:
    at_zero, per_degree, *_ = TOLERANCE_CLASSES["C"]
    beyond = np.abs(misses_c) - (at_zero + per_degree * np.abs(celsius))
    worst = int(np.argmax(beyond))
    if beyond[worst] <= 0:
        return []
    return [
        Remark(
            "not_platinum",
            f"{celsius[worst]:g} degC",
            "points within IEC 60751 class C of one R0",
            f"{abs(misses_c[worst]):.2g} K off",
            "this is hardly an IEC 60751 sensor: fit silicon or a table",
        )
    ]


def fitted_silicon(
    celsius: np.ndarray, ohms: np.ndarray, weights: np.ndarray | None, known_u_c: np.ndarray
) -> tuple[SiliconCurve, list[Remark]]:
    """Polynomial of as few terms as the points demand, rising over their whole span."""
    best: SiliconCurve | None = None
    trouble: Refused | None = None
    for terms in range(min(2, len(celsius) - 1), min(MOST_TERMS, len(celsius) - 1) + 1):
        try:
            curve = _polynomial(celsius, ohms, weights, known_u_c, terms)
        except Refused as refused:
            trouble = trouble or refused
            continue
        if best is None or worst_c(curve, celsius, ohms) < 0.7 * worst_c(best, celsius, ohms):
            best = curve
        if worst_c(best, celsius, ohms) < max(GOOD_ENOUGH_C, 2 * float(known_u_c.max())):
            break
    if best is None:
        raise trouble or Refused(
            Remark(
                "too_few_points", "silicon curve", "two points or more", "one", "measure another"
            )
        )
    return best, _silicon_remarks(best, worst_c(best, celsius, ohms))


def worst_c(curve: SiliconCurve, celsius: np.ndarray, ohms: np.ndarray) -> float:
    """Largest miss of the points, as temperature. [K]"""
    return float(np.max(np.abs(curve._ohm(celsius) - ohms) / curve._slope_at(celsius)))


def _silicon_remarks(curve: SiliconCurve, worst: float) -> list[Remark]:
    remarks = []
    if len(curve.terms) > 2:
        remarks.append(
            Remark(
                "more_terms",
                "silicon curve",
                "two terms, as makers print them",
                f"the points demand {len(curve.terms)}",
                "do not trust the curve beyond its points",
            )
        )
    if worst > 0.5:
        remarks.append(
            Remark(
                "form_misses",
                "silicon curve",
                "points met within 0.5 K",
                f"up to {worst:.2g} K",
                "use a table curve, which meets every point",
            )
        )
    return remarks


def _polynomial(
    celsius: np.ndarray,
    ohms: np.ndarray,
    weights: np.ndarray | None,
    known_u_c: np.ndarray,
    terms: int,
) -> SiliconCurve:
    d = (celsius - REFERENCE_C) / SCALE_K
    design = np.stack([d**power for power in range(terms + 1)], axis=1)
    # Flat or doubled rows have no slope of their own; a silicon sensor's is never below this.
    slope = np.maximum(np.abs(local_slope_ohm_per_k(celsius, ohms)), 1e-4 * ohms)
    relative = np.ones_like(ohms) if weights is None else weights
    fit = solved(design, ohms, relative / ohms**2, known_u_c * slope)
    scale = SCALE_K ** -np.arange(terms + 1.0)
    values = fit.values * scale
    covariance = fit.covariance * np.outer(scale, scale)
    span = (float(celsius.min()), float(celsius.max()))
    form = form_u_c(fit.residuals / slope, known_u_c, fit.freedom)
    ratios = tuple(float(value / values[0]) for value in values[1:])
    return SiliconCurve(float(values[0]), ratios, span, covariance, form)
