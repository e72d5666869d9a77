"""A sensor as typed: its curve with its band, what each reading leaves, and every doubt about it."""

from __future__ import annotations

from dataclasses import dataclass

from locum.errors import Remark
from locum.jobs.circuit import open_sensor
from locum.jobs.quantities import readings_typed

COLDEST_C, HOTTEST_C, EVERY_C = -40, 140, 20


@dataclass(frozen=True)
class SensorLook:
    """A sensor as typed: its curve with its band at a few temperatures, and every doubt about it."""

    kind: str
    points: tuple[tuple[float, float, float], ...]
    """(degC, ohm, expanded uncertainty in K) every 20 K; 0 K where it is not known."""
    remarks: tuple[Remark, ...]
    readings: tuple[tuple[float, float, float], ...] = ()
    """As typed: (degC, ohm, how much warmer the curve takes these ohms to be, in K)."""


def look_at_sensor(words: str | None) -> SensorLook:
    """The curve of a sheet, of typed readings (bare temperatures in the settings' unit), or the usual one.

    Raises Refused with every fault of the readings or the sheet.
    """
    sensor = open_sensor(words)
    curve = sensor.curve
    low, high = max(curve.domain_c[0], COLDEST_C), min(curve.domain_c[1], HOTTEST_C)
    celsius = [float(c) for c in range(COLDEST_C, HOTTEST_C + 1, EVERY_C) if low <= c <= high]
    points = tuple(
        (c, float(curve.resistance_ohm(c)), 2 * float(curve.u_temperature_c(c))) for c in celsius
    )
    typed = readings_typed(words) if words and "=" in words else []
    readings = tuple((c, ohm, float(curve.temperature_c(ohm)) - c) for c, ohm in typed)
    remarks = (*sensor.remarks, *_rising(readings))
    return SensorLook(curve.kind, points, remarks, readings)


def _rising(readings: tuple[tuple[float, float, float], ...]) -> list[Remark]:
    """Ohms that rise with the heat are possible, and more often two readings changed over."""
    by_heat = sorted(readings)
    if len(by_heat) < 2 or by_heat[0][1] >= by_heat[-1][1]:
        return []
    return [Remark("rising", "readings", "fewer ohms the hotter, as nearly all vehicle sensors have",
                   "more ohms the hotter", "look whether two readings are changed over; if they are "
                   "right, go on")]  # fmt: skip
