"""Is this sensor good? Its measured readings against the published band, with their uncertainty.

The rule is the guarded one: *in* only if the reading with its whole U lies inside the limits, *out* only if
it lies outside with its whole U, *inconclusive* otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from locum.errors import Misuse, Remark
from locum.physics.band import Band, tolerance_band
from locum.physics.curve_base import Curve
from locum.physics.figures import plain
from locum.physics.fit import Fit

Judgement = Literal["in", "out", "inconclusive"]
COVERAGE = 2.0


@dataclass(frozen=True)
class Reading:
    """One reading of a sensor: a thermometer and an ohmmeter at the same moment."""

    celsius: float
    ohms: float
    u_celsius: float | None = None
    """Standard uncertainty of the temperature at the sensor; None takes the call's. [K]"""
    u_ohms: float | None = None
    """Standard uncertainty of the resistance; None takes the meter's given to the call. [ohm]"""


@dataclass(frozen=True)
class JudgedReading:
    """A reading against the band, as resistance and as temperature."""

    reading: Reading
    low_ohm: float
    high_ohm: float
    """The limits at the reading's temperature; NaN without a band. [ohm]"""
    expanded_ohm: float
    """U (k = 2) of the reading with the thermometer's part. [ohm]"""
    off_c: float
    """Temperature by the centre curve minus the thermometer's. [K]"""
    expanded_c: float
    """U (k = 2) of ``off_c``. [K]"""
    judgement: Judgement
    largest_part: str
    """What most of U comes from: ``thermometer``, ``meter`` or ``curve``."""


@dataclass(frozen=True)
class SensorJudgement:
    """The verdict on one sensor, with every reading's own."""

    judgement: Judgement
    readings: tuple[JudgedReading, ...]
    warnings: tuple[Remark, ...]
    sentence: str


def judge_sensor(
    published: Band | Fit | Curve,
    readings: Sequence[Reading | tuple[float, float]],
    meter_pct: float = 0.5,
    meter_digits_ohm: float = 0.0,
    u_celsius: float = 0.5,
    tolerance_pct: float | None = None,
) -> SensorJudgement:
    """Measured readings of one sensor against its published band.

    Parameters
    ----------
    published : Band, Fit or Curve
        A limits table's band, or a curve, which needs ``tolerance_pct`` to be judged against.
    readings : sequence of Reading or (degC, ohm)
        Two or three, far apart, are enough.
    meter_pct, meter_digits_ohm : float
        Half-widths of the ohmmeter: of the reading, and of its last digits. [%, ohm]
    u_celsius : float
        Standard uncertainty of the temperature at the sensor, where the reading has none of its own. [K]
    tolerance_pct : float, optional
        Published tolerance of the resistance, where there are no limits. [%]

    Returns
    -------
    SensorJudgement
        Overall ``out`` if any reading is out, ``in`` if all are in, otherwise ``inconclusive``.
    """
    if not readings:
        raise Misuse(Remark("no_readings", "sensor", "one reading at least", "none"))
    centre, band = _centre_and_band(published, tolerance_pct)
    meter = (meter_pct / 100 / np.sqrt(3), meter_digits_ohm / np.sqrt(3))
    judged = tuple(_judged(_reading(r, u_celsius, meter), centre, band) for r in readings)
    overall: Judgement = "inconclusive"
    if any(item.judgement == "out" for item in judged):
        overall = "out"
    elif all(item.judgement == "in" for item in judged):
        overall = "in"
    warnings = tuple(_warnings(judged, centre, band))
    return SensorJudgement(overall, judged, warnings, _sentence(overall, judged))


def _centre_and_band(
    published: Band | Fit | Curve, tolerance_pct: float | None
) -> tuple[Curve, Band | None]:
    if isinstance(published, Fit):
        centre, band = published.curve, published.band
    elif isinstance(published, Band):
        centre, band = published.low, published
    else:
        centre, band = published, None
    if band is None and tolerance_pct is not None:
        band = tolerance_band(centre, tolerance_pct)
    return centre, band


def _reading(
    given: Reading | tuple[float, float], u_celsius: float, meter: tuple[float, float]
) -> Reading:
    reading = given if isinstance(given, Reading) else Reading(*given)
    of_meter = float(np.hypot(meter[0] * reading.ohms, meter[1]))
    return Reading(
        reading.celsius,
        reading.ohms,
        u_celsius if reading.u_celsius is None else reading.u_celsius,
        of_meter if reading.u_ohms is None else reading.u_ohms,
    )


def _judged(reading: Reading, centre: Curve, band: Band | None) -> JudgedReading:
    t, r = reading.celsius, reading.ohms
    slope = abs(float(centre.slope_ohm_per_k(t)))
    parts = {
        "thermometer": slope * (reading.u_celsius or 0.0),
        "meter": reading.u_ohms or 0.0,
        # A limits table is a promise in itself; a fitted centre has an uncertainty of its own.
        "curve": 0.0 if band and _printed(band) else slope * float(centre.u_temperature_c(t)),
    }
    expanded = COVERAGE * float(np.sqrt(sum(u**2 for u in parts.values())))
    low, high = band.limits_ohm(t) if band else (np.nan, np.nan)
    middle = float(np.sqrt(low * high)) if band else float(centre.resistance_ohm(t))
    # As temperature: the distance in ln R over the curve's own steepness.
    steepness = float(centre.slope_ohm_per_k(t)) / float(centre.resistance_ohm(t))
    return JudgedReading(
        reading=reading,
        low_ohm=float(low),
        high_ohm=float(high),
        expanded_ohm=expanded,
        off_c=float(np.log(r / middle) / steepness),
        expanded_c=expanded / slope,
        judgement=_ruled(t, r, expanded, float(low), float(high), band),
        largest_part=max(parts, key=lambda name: parts[name]),
    )


def _printed(band: Band) -> bool:
    return band.low.kind == "table"


def _ruled(
    t: float, r: float, expanded: float, low: float, high: float, band: Band | None
) -> Judgement:
    if band is None or not band.span_c[0] - 0.5 <= t <= band.span_c[1] + 0.5:
        return "inconclusive"
    if r + expanded < low or r - expanded > high:
        return "out"
    if r - expanded >= low and r + expanded <= high:
        return "in"
    return "inconclusive"


def _warnings(judged: Sequence[JudgedReading], centre: Curve, band: Band | None) -> list[Remark]:
    if band is None:
        return [
            Remark(
                "no_band",
                "sensor",
                "published limits or a tolerance to judge by",
                "a centre curve only",
                "give the tolerance of the table in per cent, or a table with limits",
            )
        ]
    remarks = []
    for item in judged:
        t = item.reading.celsius
        if not band.span_c[0] - 0.5 <= t <= band.span_c[1] + 0.5:
            remarks.append(
                Remark(
                    "outside_points",
                    f"reading at {t:g} degC",
                    f"a temperature with limits, {band.span_c[0]:g} to {band.span_c[1]:g} degC",
                    "none published there",
                    "read the sensor at a temperature in the table",
                )
            )
        elif item.judgement == "inconclusive":
            remarks.append(_undecided_remark(item))
    return remarks


def _undecided_remark(item: JudgedReading) -> Remark:
    better = {
        "thermometer": "let thermometer and sensor soak together, or use a better thermometer",
        "meter": "use a better ohmmeter or a lower range",
        "curve": "look for a finer table",
    }
    return Remark(
        "inconclusive",
        f"reading at {item.reading.celsius:g} degC",
        f"{plain(item.low_ohm, 4)} to {plain(item.high_ohm, 4)} ohm",
        f"{plain(item.reading.ohms, 4)} +- {plain(item.expanded_ohm, 2)} ohm (k = 2), across a limit",
        better[item.largest_part],
    )


def _sentence(overall: Judgement, judged: Sequence[JudgedReading]) -> str:
    worst = max(judged, key=lambda item: abs(item.off_c) / max(item.expanded_c, 1e-9))
    figures = (
        f"at {worst.reading.celsius:g} degC it reads {plain(worst.reading.ohms, 4)} ohm, "
        f"{worst.off_c:+.1f} K from the middle of the published curve, U = {worst.expanded_c:.1f} K"
    )
    if overall == "in":
        return f"Within the published limits at all {len(judged)} readings; {figures}."
    if overall == "out":
        out = next(item for item in judged if item.judgement == "out")
        return (
            f"Outside the published limits: {plain(out.reading.ohms, 4)} +- {plain(out.expanded_ohm, 2)} ohm at "
            f"{out.reading.celsius:g} degC, where {plain(out.low_ohm, 4)} to {plain(out.high_ohm, 4)} ohm is allowed."
        )
    return f"Neither within nor outside for certain; {figures}."
