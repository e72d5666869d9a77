"""Least squares fits of thermistor points: Steinhart and Hart's form, and beta.

1/T is linear in the coefficients, so no search is needed. Rows weigh alike in 1/T unless told
otherwise: an error of one per cent in the resistance is worth the same in 1/T anywhere on the curve, and
printed tables are rounded to a number of digits, that is in per cent.
"""

from __future__ import annotations

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.curve_base import KELVIN
from locum.physics.curve_ntc import BetaCurve, NtcCurve
from locum.physics.least_squares import Solution, solved

MISSES_C = 0.5
"""Worst miss, beyond rounding, that is said. [K]"""
DEMANDS_MORE_C = 1.0
"""Worst miss, beyond rounding, from which a fourth term is tried: beyond the points it bends more
than three terms do, so it must be worth it. [K]"""
LEAST_ROWS_FOR_MORE = 12
STEEPEST_CLIMB = 0.35
"""Beta climbing faster than this over 100 K is unusual; published settings reach 0.32."""
FARTHEST_LN_OHM = 50.0
"""|ln R| at 25 degC beyond which rows are no sensor's: 5e21 ohm, or its inverse."""
REFERENCE_C = 25.0

POWERS = {2: (0, 1), 3: (0, 1, 3), 4: (0, 1, 2, 3)}
PLACE = {0: 0, 1: 1, 2: 2, 3: 3}
"""Power of ln R to its place in the curve's covariance (a, b, square, c)."""


def fitted_ntc(
    celsius: np.ndarray,
    ohms: np.ndarray,
    weights: np.ndarray | None,
    known_u_c: np.ndarray,
) -> tuple[NtcCurve, list[Remark]]:
    """Steinhart-Hart curve of three points or more, with a remark where terms were added or left out.

    ``weights`` are relative weights of the squared misses in 1/T; ``known_u_c`` each row's least
    standard uncertainty as temperature. [K]
    """
    kelvin = celsius + KELVIN
    known = known_u_c / kelvin**2
    try:
        three = _ntc(celsius, ohms, weights, known, terms=3)
    except Refused:
        return _with_two_terms(celsius, ohms, weights, known)
    worst = _worst_c(three, celsius, ohms)
    explained = 2 * float(known_u_c.max())
    remarks = _shape_remarks(three)
    if worst > MISSES_C + explained:
        remarks.append(_form_remark(worst))
    if len(celsius) < LEAST_ROWS_FOR_MORE or worst <= DEMANDS_MORE_C + explained:
        return three, remarks
    try:
        four = _ntc(celsius, ohms, weights, known, terms=4)
    except Refused:
        return three, remarks
    better = _worst_c(four, celsius, ohms)
    if better > 0.5 * worst:
        return three, remarks
    return four, [
        Remark(
            "fourth_term",
            "ntc curve",
            "three terms (Steinhart and Hart)",
            f"they miss these points by up to {worst:.2g} K; with a square term beside them {better:.2g} K",
            "the square term is kept; a table curve would meet every point",
        )
    ]


def fitted_beta(
    celsius: np.ndarray, ohms: np.ndarray, weights: np.ndarray | None, known_u_c: np.ndarray
) -> BetaCurve:
    """Beta curve of two points or more: a straight line of ln R against 1/T."""
    kelvin = celsius + KELVIN
    from_25 = 1.0 / kelvin - 1.0 / (REFERENCE_C + KELVIN)
    design = np.stack([np.ones_like(from_25), from_25], axis=1)
    centred = from_25 - from_25.mean()
    rough = max(abs(float(centred @ np.log(ohms) / (centred @ centred))), 1e-6)
    known = known_u_c * rough / kelvin**2
    line = solved(design, np.log(ohms), weights, known)
    if abs(line.values[0]) > FARTHEST_LN_OHM:
        raise Refused(
            Remark(
                "steep",
                "beta curve",
                "rows of a thermistor, 2 to 6 % less for each kelvin",
                f"a beta of {line.values[1]:.3g} K, which no sensor has",
                "look at the temperatures and ohms again, or give rows farther apart",
            )
        )
    span = (float(celsius.min()), float(celsius.max()))
    curve = BetaCurve(
        float(line.values[1]),
        float(np.exp(line.values[0])),
        REFERENCE_C,
        span,
        line.covariance,
        form_u_c(line.residuals * kelvin**2 / rough, known_u_c, line.freedom),
    )
    return curve


def form_u_c(misses_c: np.ndarray, known_u_c: np.ndarray, freedom: int) -> float:
    """What the points miss beyond what is known of them, as a standard uncertainty. [K]"""
    if freedom < 1:
        return 0.0
    variance = float(np.sum(misses_c**2)) / freedom - float(np.mean(known_u_c**2))
    return float(np.sqrt(max(variance, 0.0)))


def _ntc(
    celsius: np.ndarray,
    ohms: np.ndarray,
    weights: np.ndarray | None,
    known: np.ndarray,
    terms: int,
) -> NtcCurve:
    x, kelvin = np.log(ohms), celsius + KELVIN
    powers = POWERS[terms]
    design = np.stack([x**power for power in powers], axis=1)
    fit = solved(design, 1.0 / kelvin, weights, known)
    placed = np.zeros(4)
    placed[[PLACE[power] for power in powers]] = fit.values
    a, b, square, c = (float(value) for value in placed)
    span = (float(celsius.min()), float(celsius.max()))
    return NtcCurve(a, b, c, square, span, _covariance(fit, powers), _form(fit, kelvin, known))


def _covariance(fit: Solution, powers: tuple[int, ...]) -> np.ndarray:
    covariance = np.zeros((4, 4))
    places = [PLACE[power] for power in powers]
    covariance[np.ix_(places, places)] = fit.covariance
    return covariance


def _form(fit: Solution, kelvin: np.ndarray, known: np.ndarray) -> float:
    return form_u_c(fit.residuals * kelvin**2, known * kelvin**2, fit.freedom)


def _with_two_terms(
    celsius: np.ndarray, ohms: np.ndarray, weights: np.ndarray | None, known: np.ndarray
) -> tuple[NtcCurve, list[Remark]]:
    two = _ntc(celsius, ohms, weights, known, terms=2)
    return two, [
        Remark(
            "two_terms",
            "ntc curve",
            "three terms (Steinhart and Hart) that fall over the whole span",
            "with the third term the curve turns back between these points",
            "two terms are used, which is a beta curve: check the points",
        )
    ]


def _worst_c(curve: NtcCurve, celsius: np.ndarray, ohms: np.ndarray) -> float:
    return float(np.max(np.abs(curve._celsius(ohms) - celsius)))


def _shape_remarks(curve: NtcCurve) -> list[Remark]:
    low, high = curve.span_c
    if high - low < 1.0:
        return []
    steps = np.array([low, low + 0.5, high - 0.5, high])
    cold, hot = (curve.beta_k(*pair) for pair in (steps[:2], steps[2:]))
    climb = 100.0 * (hot - cold) / (high - low) / (0.5 * (hot + cold))
    if curve.c >= 0 and climb <= STEEPEST_CLIMB:
        return []
    found = f"beta goes from {cold:.0f} K at {low:g} degC to {hot:.0f} K at {high:g} degC"
    return [
        Remark(
            "unusual_shape",
            "ntc curve",
            "a beta that climbs by some per cent over 100 K, as thermistors' do",
            found + (f" (c = {curve.c:.3g})" if curve.c < 0 else ""),
            "treat the curve as rough beyond its points, and check them",
        )
    ]


def _form_remark(worst_c: float) -> Remark:
    return Remark(
        "form_misses",
        "ntc curve",
        f"points met within {MISSES_C:g} K and their rounding",
        f"misses up to {worst_c:.2g} K",
        "use a table curve, or fit only the range you need",
    )
