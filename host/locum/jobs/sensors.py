"""``locum sensor fit`` and ``sensor at``."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from locum.errors import Misuse, Remark
from locum.jobs.circuit import open_sensor
from locum.jobs.files import write_text
from locum.jobs.jsontext import Result
from locum.physics.fit import fit_curve
from locum.physics.judge import use_remarks
from locum.sheets.points import open_points
from locum.sheets.sensor import sensor_text


@dataclass
class FitResult(Result):
    kind: str
    coefficients: dict[str, float]
    rms_c: float
    worst_c: float
    residuals_c: list[float]
    points: list[dict[str, float]]
    understood: list[str]
    """How the file's columns were read."""
    warnings: list[Remark] = field(default_factory=list)
    out: str | None = None


def fit(points: str, kind: str = "auto", out: str | None = None) -> FitResult:
    """Fit a curve to a points file; a sheet is written only when the fit stands."""
    path = Path(points)
    table = open_points(path)
    result = fit_curve(**table.fit_arguments(), kind=kind)
    written = None
    if out:
        written = write_text(Path(out), sensor_text(result, title=path.stem, source=path.name))
    rows = zip(result.celsius, result.ohms, strict=True)
    return FitResult(
        kind=result.kind, coefficients=result.coefficients, rms_c=result.rms_c,
        worst_c=result.worst_c, residuals_c=list(result.residuals_c),
        points=[{"celsius": float(c), "ohms": float(r)} for c, r in rows],
        understood=list(table.understood), warnings=[*table.warnings, *result.warnings], out=written,
    )  # fmt: skip


@dataclass
class AtResult(Result):
    sheet: str
    kind: str
    points: list[dict[str, Any]]
    warnings: list[Remark] = field(default_factory=list)


def at(sheet: str, celsius: list[float] | None = None, ohms: list[float] | None = None) -> AtResult:
    """Temperature to ohms, ohms to temperature; outside the points warned, outside the domain refused."""
    if not celsius and not ohms:
        raise Misuse(
            Remark("nothing_asked", "sensor at", "--celsius T... or --ohms R...", "neither")
        )
    sensor = open_sensor(sheet)
    curve = sensor.curve
    temperatures = [*(celsius or []), *(curve.temperature_c(r) for r in ohms or [])]
    points = [
        {
            "celsius": float(t),
            "ohms": float(curve.resistance_ohm(t)),
            "ohms_per_c": float(curve.slope_ohm_per_k(t)),
            "u_c": float(curve.u_temperature_c(t)),
        }
        for t in temperatures
    ]
    doubts = use_remarks(curve, temperatures)
    return AtResult(sensor.name, curve.kind, points, [*sensor.remarks, *doubts])
