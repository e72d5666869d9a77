"""Judging a table of points before and after it is fitted: every doubt said, with its row.

``refuse_unusable`` raises for what no curve can come from; ``point_remarks`` warns of what looks wrong though a
curve exists; ``use_remarks`` warns when a fitted curve is asked for temperatures it knows little about.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.curve import BetaCurve, Curve
from locum.physics.curve_base import KELVIN, THERMISTOR_DOMAIN_C, Value
from locum.physics.figures import plain
from locum.physics.outliers import Outlier, expected_ohm, outliers, turning_rows
from locum.physics.rounding import quantum_ohm
from locum.physics.units_guess import (
    kohm_remarks,
    maybe_fahrenheit,
    maybe_swapped,
    swapped_remark,
    unit_remarks,
)

COARSE_C = 0.25
"""Half a rounding step worth more than this is said: it is then the largest part of most fits. [K]"""
BETA_REACH_K = 30.0
"""Beta is good this far from its points (common practice). [K]"""


def refuse_unusable(
    celsius: np.ndarray,
    ohms: np.ndarray,
    labels: Sequence[str],
    domain_c: tuple[float, float] = THERMISTOR_DOMAIN_C,
) -> None:
    """Raise Refused with every row that no curve can pass through.

    Parameters
    ----------
    celsius, ohms : arrays of one length
    labels : sequence of str
        How to call each row: ``line 7`` or ``row 3``.
    domain_c : (low, high)
        Temperatures the kind of curve is made for. [degC]
    """
    if celsius.shape != ohms.shape or celsius.ndim != 1:
        raise Refused(
            Remark(
                "uneven_columns",
                "points",
                "as many temperatures as resistances",
                f"{celsius.size} and {ohms.size}",
            )
        )
    if len(celsius) == 0:
        raise Refused(Remark("no_points", "points", "one row at least", "none", "add readings"))
    low, high = domain_c
    faults = []
    for label, t, r in zip(labels, celsius, ohms, strict=True):
        if not (np.isfinite(t) and np.isfinite(r)):
            faults.append(_row("not_finite", label, "two finite numbers", f"{t:g} degC, {r:g} ohm"))
        elif r <= 0:
            faults.append(_row("not_positive", label, "a resistance above zero", f"{r:g} ohm"))
        elif not usable_ohm(r):
            wanted = "a resistance of 1 mohm to 1 Gohm"
            faults.append(_row("impossible_resistance", label, wanted, f"{r:g} ohm"))
        elif not low <= t <= high:
            wanted = f"a temperature between {low:g} and {high:g} degC"
            faults.append(_row("impossible_temperature", label, wanted, f"{t:g} degC"))
    if faults:
        raise Refused(faults + _cure(celsius, ohms))


def usable_ohm(ohms: Value) -> np.ndarray:
    """Whether resistances can belong to any sensor at all; beyond, powers of them overflow."""
    given = np.asarray(ohms, dtype=float)
    return np.isfinite(given) & (given >= 1e-3) & (given <= 1e9)


def point_remarks(
    celsius: np.ndarray,
    ohms: np.ndarray,
    labels: Sequence[str],
    stepped_ohm: np.ndarray | None = None,
) -> list[Remark]:
    """Warnings about usable points: units, rows that turn back or stand out, coarse rounding.

    ``stepped_ohm`` is the rounding step of each row where it is known otherwise. [ohm]
    """
    remarks = []
    falling = _falls(celsius, ohms)
    if falling:
        remarks += unit_remarks(celsius, ohms)
    elif maybe_swapped(celsius, ohms):
        remarks.append(swapped_remark(celsius, ohms))
    else:
        remarks += kohm_remarks(celsius, ohms)
    turning = turning_rows(celsius, ohms) if len(celsius) > 2 else []
    remarks += [_turning_remark(i, turning, celsius, ohms, labels) for i in turning]
    step = quantum_ohm(ohms) if stepped_ohm is None else stepped_ohm
    slope = local_slope_ohm_per_k(celsius, ohms)
    usable = np.abs(slope) > 0
    worth_c = np.where(usable, 0.5 * step / np.where(usable, np.abs(slope), 1.0), 0.0)
    for odd in outliers(celsius, ohms, worth_c / np.sqrt(3.0)):
        if odd.index not in turning:
            remarks.append(_outlier_remark(odd, celsius, ohms, labels))
    if np.any(worth_c > COARSE_C):
        remarks.append(_rounding_remark(worth_c, step, celsius, ohms, labels))
    return remarks


def use_remarks(curve: Curve, temperature_c: Value) -> list[Remark]:
    """Warnings about using a curve at temperatures: beyond its points, or beta far from them."""
    remarks = curve.outside_points(temperature_c)
    if not isinstance(curve, BetaCurve):
        return remarks
    celsius = np.atleast_1d(np.asarray(temperature_c, dtype=float))
    middle = 0.5 * sum(curve.span_c)
    beyond = np.maximum(curve.span_c[0] - celsius, celsius - curve.span_c[1])
    if beyond.max(initial=0.0) > BETA_REACH_K:
        worst = float(celsius[int(np.argmax(beyond))])
        remarks.append(
            Remark(
                "beta_far_from_points",
                f"{worst:g} degC",
                f"beta used within {BETA_REACH_K:g} K of its points, {curve.span_c[0]:g} to {curve.span_c[1]:g} degC",
                f"{beyond.max():.3g} K beyond them, where a usual sensor is off by about "
                f"{beta_error_c(curve, worst, middle):.2g} K",
                "measure a point there, or use a table of the sensor",
            )
        )
    return remarks


def beta_error_c(curve: BetaCurve, temperature_c: float, middle_c: float) -> float:
    """About how far a beta curve errs away from its points, beta climbing 7 % over 100 K. [K]

    The miss in ln R grows as the product of the distances from the curve's two ends.
    """
    kelvin = temperature_c + KELVIN
    climb_per_k = 0.07 / 100.0 * curve.beta_k
    low, high = (end + KELVIN for end in curve.span_c)
    # ln R misses by half of dbeta/d(1/T) times both distances in 1/T.
    per_inverse = climb_per_k * (middle_c + KELVIN) ** 2
    miss = 0.5 * per_inverse * abs((1 / kelvin - 1 / low) * (1 / kelvin - 1 / high))
    return miss * kelvin**2 / curve.beta_k


def local_slope_ohm_per_k(celsius: np.ndarray, ohms: np.ndarray) -> np.ndarray:
    """Slope at each row from its neighbours, in ln R against 1/T. [ohm/K]"""
    unique, first = np.unique(celsius, return_index=True)
    if len(unique) < 2:
        return np.zeros_like(ohms)
    steepness = np.gradient(np.log(ohms[first]), 1.0 / (unique + KELVIN))
    at = np.interp(celsius, unique, steepness)
    return -at * ohms / (celsius + KELVIN) ** 2


def row_labels(count: int) -> list[str]:
    """``row 1``, ``row 2`` and so on, where a file's lines are not known."""
    return [f"row {number}" for number in range(1, count + 1)]


def _falls(celsius: np.ndarray, ohms: np.ndarray) -> bool:
    return float((celsius - celsius.mean()) @ np.log(ohms)) <= 0


def _cure(celsius: np.ndarray, ohms: np.ndarray) -> list[Remark]:
    """What may be behind unusable rows."""
    finite = np.isfinite(celsius) & np.isfinite(ohms)
    t, r = celsius[finite], ohms[finite]
    if maybe_swapped(t, r):
        return [swapped_remark(t, r)]
    if maybe_fahrenheit(t, r):
        return unit_remarks(t, r)
    return []


def _row(code: str, label: str, wanted: str, found: str) -> Remark:
    return Remark(code, label, wanted, found, "correct or remove the row")


def _turning_remark(
    index: int, turning: Sequence[int], celsius: np.ndarray, ohms: np.ndarray, labels: Sequence[str]
) -> Remark:
    others = np.array([i for i in range(len(celsius)) if i not in turning])
    near = others[np.argsort(np.abs(celsius[others] - celsius[index]), kind="stable")[:2]]
    beside = " and ".join(f"{ohms[i]:g} ohm at {celsius[i]:g} degC" for i in sorted(near))
    code, remedy = "turns_back", "check the row against its source"
    if len(others) > 2:
        expected = expected_ohm(float(celsius[index]), celsius[others], ohms[others])
        code, remedy = _unit_slip(expected / float(ohms[index])) or (code, remedy)
    return Remark(
        code,
        f"{labels[index]} ({celsius[index]:g} degC)",
        "resistance changing in one direction only",
        f"{ohms[index]:g} ohm beside {beside}",
        remedy,
    )


def _unit_slip(ratio: float) -> tuple[str, str] | None:
    """Code and remedy for a row that is a thousand times too small or too large."""
    for factor, unit in ((1000.0, "kilohm"), (0.001, "ohm in a column of kilohm")):
        if 0.6 < ratio / factor < 1.6:
            return "mixed_units", f"this row looks like {unit}: write all rows in one unit"
    return None


def _outlier_remark(
    odd: Outlier, celsius: np.ndarray, ohms: np.ndarray, labels: Sequence[str]
) -> Remark:
    plain_words = ("outlier", "check the row against its source")
    code, remedy = _unit_slip(odd.expected_ohm / float(ohms[odd.index])) or plain_words
    off = f", {abs(odd.off_c):.2g} K off" if np.isfinite(odd.off_c) else ""
    return Remark(
        code,
        f"{labels[odd.index]} ({celsius[odd.index]:g} degC)",
        f"about {plain(odd.expected_ohm, 4)} ohm by the other rows",
        f"{ohms[odd.index]:g} ohm{off}",
        remedy,
    )


def _rounding_remark(
    worth_c: np.ndarray,
    step: np.ndarray,
    celsius: np.ndarray,
    ohms: np.ndarray,
    labels: Sequence[str],
) -> Remark:
    worst = int(np.argmax(worth_c))
    coarse = int(np.count_nonzero(worth_c > COARSE_C))
    return Remark(
        "coarse_rounding",
        f"{labels[worst]} ({celsius[worst]:g} degC)",
        f"resistances printed to better than {COARSE_C:g} K",
        f"{coarse} {'row' if coarse == 1 else 'rows'} coarser; the worst, {plain(float(ohms[worst]), 4)} ohm "
        f"in steps of about {plain(float(step[worst]), 2)} ohm, "
        f"leaves +-{worth_c[worst]:.2g} K",
        "no fit can be better than that there: look for a finer table or measure",
    )
