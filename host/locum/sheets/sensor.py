"""The sensor sheet: one sensor's curve by coefficients or by points, with its source.

    schema = 1
    kind = "ntc"                    # ntc, beta, table, platinum, silicon
    title = "..."
    source = "..."                  # document and page, or "measured on this car"
    confidence = "..."              # how the numbers got here
    circuit = "coolant"             # coolant, transmission, intake, oil, other
    tolerance_pct = 5.0             # of the resistance, where the source states one
    span_c = [-40.0, 140.0]         # where there are coefficients without points

    [coefficients]                  # either these ...
    a = 1.335e-3
    b = 2.562e-4
    c = 1.496e-7

    [[point]]                       # ... or points, or both
    celsius = 20.0
    ohms = 2500.0                   # and, or instead, ohms_low and ohms_high

With both, the coefficients are the curve and the points its evidence: a curve that misses them is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.band import Band, tolerance_band
from locum.physics.curve import KINDS, NEEDED, OPTIONAL, Curve, curve_from_dict
from locum.physics.fit import Fit, fit_curve
from locum.sheets.fields import SheetText, Table
from locum.sheets.sensor_text import sensor_text

__all__ = ["CIRCUITS", "SensorSheet", "read_sensor", "sensor_text"]

CIRCUITS = ("coolant", "transmission", "intake", "oil", "other")
MISS_C = 1.0
"""Coefficients that miss the sheet's own points by more are told: a digit may be wrong. [K]"""


@dataclass(frozen=True)
class SensorSheet:
    """One sensor, checked."""

    name: str
    title: str
    kind: str
    curve: Curve
    source: str = ""
    confidence: str = ""
    circuit: str = ""
    """``coolant``, ``transmission``, ``intake``, ``oil``, ``other``; empty where not told."""
    points: tuple[tuple[float, float], ...] = ()
    """Rows (degC, ohm) the sheet gives; centres where it gives limits."""
    band: Band | None = None
    """Published limits, from the points or the tolerance."""
    remarks: tuple[Remark, ...] = ()
    """Doubts about the curve, told whenever the sheet is used."""


@dataclass(frozen=True)
class _Rows:
    celsius: np.ndarray
    ohms: np.ndarray | None
    low: np.ndarray | None
    high: np.ndarray | None
    labels: tuple[str, ...]

    def fitted(self, kind: str) -> Fit:
        return fit_curve(
            self.celsius, self.ohms, kind, None, self.low, self.high, labels=self.labels
        )


def read_sensor(text: str, name: str = "sensor") -> SensorSheet:
    """The checked sheet; Refused with all faults and their lines."""
    sheet = SheetText.parse(text, name)
    top = sheet.table()
    kind = top.choice("kind", KINDS)
    title = top.text("title", default=name)
    source = top.text("source", default="")
    confidence = top.text("confidence", default="")
    circuit = top.choice("circuit", CIRCUITS, default="") if "circuit" in top else ""
    top.know("note")
    tolerance_pct = top.number("tolerance_pct", 0.01, 50.0, required=False)
    span_c = top.numbers("span_c", 2, default=[]) or None
    coefficients = _coefficients(top, kind)
    uncertainty = _uncertainty(top)
    rows = _rows(sheet, top)
    if not coefficients and rows is None:
        top.remark("no_curve", "", "[coefficients] or two [[point]]", "neither", "add one of them")
    sheet.finish()
    if coefficients:
        curve, remarks, band = _by_coefficients(
            sheet, kind, coefficients, span_c, uncertainty, rows
        )
    else:
        assert rows is not None
        fit = rows.fitted(kind)
        curve, remarks, band = fit.curve, tuple(fit.warnings), fit.band
    if band is None and tolerance_pct is not None:
        band = tolerance_band(curve, tolerance_pct)
    points = _centres(rows)
    return SensorSheet(
        name, title, curve.kind, curve, source, confidence, circuit or "", points, band, remarks
    )


def _coefficients(top: Table, kind: str | None) -> dict[str, float]:
    table = top.table("coefficients")
    if kind not in KINDS or not list(table):
        table.know(*list(table))
        return {}
    needed = {name: table.number(name) for name in NEEDED[kind]}
    optional = {name: table.number(name, required=False) for name in OPTIONAL[kind]}
    given = {**needed, **optional}
    return {name: value for name, value in given.items() if value is not None}


def _uncertainty(top: Table) -> dict[str, Any]:
    """Covariance and form of a fit, as ``sensor_text`` writes them."""
    table = top.table("uncertainty")
    found = {
        name: table.number(name, 0.0, required=False)
        for name in ("u_form_c", "u_r0_ohm")
        if name in table
    }
    matrix = table.raw("covariance")
    if matrix is not None:
        try:
            covariance = np.array(matrix, dtype=float)
            square = covariance.ndim == 2 and covariance.shape[0] == covariance.shape[1]
            good = square and bool(np.all(np.isfinite(covariance)))
        except (TypeError, ValueError):
            good = False
        if good:
            found["covariance"] = matrix
        else:
            table.remark("not_numbers", "covariance", "a square of numbers", "something else")
    return {name: value for name, value in found.items() if value is not None}


def _rows(sheet: SheetText, top: Table) -> _Rows | None:
    """The sheet's points, all of them in the same way; None if there are none."""
    if "point" not in top:
        return None
    tables = top.tables("point", least=1)
    ways = {_way(table) for table in tables}
    if len(ways) > 1:
        top.remark("mixed_points", "point", "the same keys in every point", "different ones")
    columns: dict[str, list[float]] = {}
    for table in tables:
        for key in ("celsius", *_way(table)):
            lowest = -273.15 if key == "celsius" else 1e-6
            columns.setdefault(key, []).append(table.number(key, lowest, 1e9))
    if sheet.remarks or len(ways) > 1 or not tables:
        return None
    labels = tuple(sheet.where(("point", at)) for at in range(len(tables)))
    arrays = {key: np.array(column, dtype=float) for key, column in columns.items()}
    return _Rows(
        arrays["celsius"],
        arrays.get("ohms"),
        arrays.get("ohms_low"),
        arrays.get("ohms_high"),
        labels,
    )


def _way(table: Table) -> tuple[str, ...]:
    """The keys a point must have beside its temperature."""
    limits = ("ohms_low", "ohms_high") if "ohms_low" in table or "ohms_high" in table else ()
    return ("ohms", *limits) if "ohms" in table or not limits else limits


def _centres(rows: _Rows | None) -> tuple[tuple[float, float], ...]:
    if rows is None:
        return ()
    ohms = rows.ohms
    if ohms is None:
        low, high = rows.low, rows.high
        assert low is not None
        assert high is not None
        ohms = np.sqrt(low * high)
    return tuple(zip(rows.celsius.tolist(), ohms.tolist(), strict=True))


def _by_coefficients(
    sheet: SheetText,
    kind: str,
    coefficients: dict[str, float],
    span_c: list[float] | None,
    uncertainty: dict[str, Any],
    rows: _Rows | None,
) -> tuple[Curve, tuple[Remark, ...], Band | None]:
    if span_c is None and rows is not None:
        span_c = [float(rows.celsius.min()), float(rows.celsius.max())]
    points = _centres(rows)
    data = {"kind": kind, "coefficients": coefficients, "span_c": span_c, **uncertainty}
    try:
        curve = curve_from_dict({**data, "points": points})
    except Refused as refused:
        head = sheet.where(("coefficients",))
        raise Refused(
            [
                Remark(remark.code, f"{head}: {remark.where}", remark.wanted, remark.found,
                       remark.remedy)
                for remark in refused.remarks
            ]
        ) from None  # fmt: skip
    if rows is None:
        return curve, (), None
    band = rows.fitted("table").band if rows.low is not None else None
    return curve, tuple(_misses(sheet, curve, points)), band


def _misses(sheet: SheetText, curve: Curve, points: Sequence[tuple[float, float]]) -> list[Remark]:
    misses = [
        float(np.log(ohm / float(curve.resistance_ohm(celsius))))
        * float(curve.resistance_ohm(celsius))
        / float(curve.slope_ohm_per_k(celsius))
        for celsius, ohm in points
        if curve.domain_c[0] <= celsius <= curve.domain_c[1]
    ]
    allowed = max(MISS_C, 5.0 * curve.u_form_c)
    worst = int(np.argmax(np.abs(misses))) if misses else 0
    if not misses or abs(misses[worst]) <= allowed:
        return []
    celsius, ohm = points[worst]
    return [
        Remark(
            "coefficients_miss_points",
            sheet.where(("point", worst)),
            f"coefficients that meet the sheet's points within {allowed:.2g} K",
            f"{misses[worst]:+.2g} K at {celsius:g} degC, {ohm:g} ohm",
            "one of the two has a wrong digit: check both, or fit the points anew",
        )
    ]
