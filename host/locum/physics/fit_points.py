"""The points of a fit, made ready: centres, steps of rounding, weights, and the kind they look like."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from locum.errors import Misuse, Refused, Remark
from locum.physics.band import Band
from locum.physics.curve_platinum import TOLERANCE_CLASSES, PlatinumCurve
from locum.physics.curve_table import TableCurve
from locum.physics.judge import local_slope_ohm_per_k, row_labels, usable_ohm
from locum.physics.rounding import quantum_ohm

PLATINUM_DOMAIN_C = (-200.0, 850.0)


@dataclass(frozen=True)
class Points:
    """Rows to fit."""

    celsius: np.ndarray
    ohms: np.ndarray
    labels: tuple[str, ...]
    weights: np.ndarray | None
    """Relative weights of the squared misses, or None for alike."""
    known_u_c: np.ndarray
    """Least standard uncertainty of each row: stated, or its rounding. [K]"""
    step_ohm: np.ndarray
    """Rounding step of each row's resistance. [ohm]"""
    measured: bool = False
    """The uncertainty was stated, so the rounding is no guess to be told."""
    low: np.ndarray | None = None
    high: np.ndarray | None = None
    """Limits of each row. [ohm]"""

    @property
    def said_step_ohm(self) -> np.ndarray:
        """The rounding to warn about: none for readings of stated uncertainty. [ohm]"""
        return np.zeros_like(self.step_ohm) if self.measured else self.step_ohm

    def band(self) -> tuple[Band | None, list[Remark]]:
        """The limits as a band of two tables, or the reason why there is none."""
        if self.low is None or self.high is None or len(self.celsius) < 2:
            return None, []
        try:
            low, high = (
                TableCurve(tuple(zip(self.celsius.tolist(), limit.tolist(), strict=True)))
                for limit in (self.low, self.high)
            )
        except Refused as refused:
            return None, [
                Remark(
                    "no_band",
                    "limits",
                    "limits that change in one direction only",
                    refused.remarks[0].found,
                    "correct the limits; until then no band can be judged against",
                )
            ]
        return Band(low, high, "limits of the table"), []


def prepared(
    celsius: npt.ArrayLike,
    ohms: npt.ArrayLike | None,
    ohms_low: npt.ArrayLike | None,
    ohms_high: npt.ArrayLike | None,
    u_celsius: npt.ArrayLike | None,
    weights: npt.ArrayLike | None,
    labels: Sequence[str] | None,
) -> Points:
    """Check shapes and fill in what is missing; raise Misuse or Refused with what is wrong."""
    t = np.atleast_1d(np.asarray(celsius, dtype=float))
    names = tuple(labels) if labels is not None else tuple(row_labels(len(t)))
    low, high = (None if x is None else np.asarray(x, dtype=float) for x in (ohms_low, ohms_high))
    centre, step = _centre(ohms, low, high)
    for name, column in (("ohms", centre), ("ohms_low", low), ("ohms_high", high)):
        if column is not None and column.shape != t.shape:
            raise Misuse(
                Remark("uneven_columns", name, f"{t.size} values, as in celsius", f"{column.size}")
            )
    _refuse_crossed(t, low, high, names)
    usable = usable_ohm(centre) & np.isfinite(t)
    known = np.zeros_like(t)
    if u_celsius is not None:
        known = np.array(np.broadcast_to(np.asarray(u_celsius, dtype=float), t.shape))
    elif usable.all() and len(t) > 1:
        slope = np.abs(local_slope_ohm_per_k(t, centre))
        known = np.where(slope > 0, step / np.sqrt(12.0) / np.maximum(slope, 1e-12), 0.0)
    weighed = _weights(weights, u_celsius, t)
    measured = u_celsius is not None
    return Points(t, centre, names, weighed, known, step, measured, low, high)


def _weights(
    weights: npt.ArrayLike | None, u_celsius: npt.ArrayLike | None, t: np.ndarray
) -> np.ndarray | None:
    """Given weights, or those of the stated uncertainties taken to 1/T."""
    if weights is not None:
        given = np.asarray(weights, dtype=float)
        if given.shape != t.shape or not np.all(np.isfinite(given) & (given > 0)):
            raise Misuse(
                Remark("bad_weights", "weights", f"{t.size} numbers above zero", str(weights))
            )
        return given
    if u_celsius is None:
        return None
    u = np.broadcast_to(np.asarray(u_celsius, dtype=float), t.shape)
    if not np.all(np.isfinite(u) & (u > 0)):
        raise Misuse(Remark("bad_u", "u_celsius", "uncertainties above zero", str(u_celsius)))
    return ((t + 273.15) ** 2 / u) ** 2


def _centre(
    ohms: npt.ArrayLike | None, low: np.ndarray | None, high: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray]:
    """Resistances to fit and their rounding steps."""
    if ohms is not None:
        given = np.atleast_1d(np.asarray(ohms, dtype=float))
        good = np.isfinite(given) & (given > 0)
        step = np.zeros_like(given)
        if good.any():
            step[good] = quantum_ohm(given[good])
        return given, step
    if low is None or high is None or low.shape != high.shape:
        raise Misuse(Remark("no_ohms", "points", "resistances, or both their limits", "neither"))
    with np.errstate(invalid="ignore"):
        centre = np.sqrt(low * high)
    good = (low > 0) & (high > 0) & np.isfinite(centre)
    step = np.zeros_like(centre)
    if good.any():
        parts = [quantum_ohm(limit[good]) / limit[good] for limit in (low, high)]
        step[good] = 0.5 * centre[good] * np.hypot(*parts)
    return centre, step


def _refuse_crossed(
    t: np.ndarray, low: np.ndarray | None, high: np.ndarray | None, labels: Sequence[str]
) -> None:
    if low is None or high is None:
        return
    crossed = [
        Remark(
            "limits_crossed",
            f"{labels[int(i)]} ({t[i]:g} degC)",
            "the lowest resistance not above the highest",
            f"{low[i]:g} and {high[i]:g} ohm",
            "exchange the two",
        )
        for i in np.flatnonzero(low > high)
    ]
    if crossed:
        raise Refused(crossed)


def chosen_kind(kind: str, points: Points) -> tuple[str, list[Remark]]:
    """The kind to fit: as asked, or what the points look like; refused where they run the wrong way."""
    count = len(np.unique(points.celsius))
    rising = count > 1 and _trend(points) > 0
    if kind == "auto":
        kind = _rising_kind(points) if rising else "ntc"
    if kind in ("table", "platinum"):
        return kind, []
    if count < 2:
        raise Refused(_one_temperature(kind))
    if kind in ("ntc", "beta") and rising:
        raise Refused(RISES)
    if kind == "silicon" and not rising:
        raise Refused(FALLS)
    if kind == "ntc" and count < 3:
        return "beta", [_two_points(count)]
    return kind, []


RISES = Remark(
    "rises",
    "points",
    "resistance falling with temperature (ntc)",
    "resistance that rises",
    "fit platinum, silicon or table, or check that the columns are not swapped",
)
FALLS = Remark(
    "falls",
    "points",
    "resistance rising with temperature (silicon)",
    "resistance that falls",
    "fit ntc or table",
)


def _one_temperature(kind: str) -> Remark:
    return Remark(
        "too_few_points",
        "points",
        f"two different temperatures or more for {kind}",
        "one",
        "add a reading at another temperature",
    )


def _two_points(count: int) -> Remark:
    return Remark(
        "two_points",
        "points",
        "three temperatures or more for an ntc curve",
        f"{count}",
        "a beta curve is used: good within 30 K of its points",
    )


def _trend(points: Points) -> float:
    centred = points.celsius - points.celsius.mean()
    return float(centred @ np.log(points.ohms))


def _rising_kind(points: Points) -> str:
    """Platinum if every point lies within class C of one R0, silicon otherwise."""
    unit = PlatinumCurve(1.0)
    ratio = unit.ratio(points.celsius)
    off = np.median(points.ohms / ratio) * ratio - points.ohms
    slope = unit._ratio_slope(points.celsius) * np.median(points.ohms / ratio)
    at_zero, per_degree, *_ = TOLERANCE_CLASSES["C"]
    good = np.abs(off) <= slope * (at_zero + per_degree * np.abs(points.celsius))
    return "platinum" if np.all(good) else "silicon"
