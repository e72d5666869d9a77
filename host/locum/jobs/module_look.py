"""The module's input from two meter readings: what it is, what it will believe, what currents flow."""

from __future__ import annotations

from dataclasses import dataclass

from locum.errors import Misuse, Refused, Remark
from locum.jobs.circuit import open_module, open_sensor
from locum.jobs.files import write_text
from locum.jobs.modules import measure, module_text
from locum.locations import workshop_sheets
from locum.physics.circuit import Thevenin, current_a, node_v
from locum.sheets.lookup import find_sheet

AT_C = (0.0, 20.0, 60.0, 90.0)


@dataclass(frozen=True)
class ModuleLook:
    """A module's input as measured or as its sheet says."""

    title: str
    open_v: float
    pull_up_ohm: float
    assumed: bool
    points: tuple[tuple[float, float, float], ...]
    """(degC, volts at the pin, mA through the sensor) with the sensor in use."""


def measured_module(text: str) -> str:
    """A module by name, or measured now from typed readings and kept as a sheet of the workshop."""
    parts = text.split()
    if len(parts) == 1 and ":" not in text:
        find_sheet("module", parts[0])
        return parts[0]
    try:
        volts = float(parts[0].replace(",", ".").rstrip(" vV"))
    except ValueError:
        raise Misuse(Remark("module", "module", "volts open, then resistor:volts", f"'{text}'",
                            "type it like 5.02 2.4k:2.37")) from None  # fmt: skip
    found = measure(volts, parts[1:])
    if found.refusals:
        raise Refused(found.refusals)
    source = Thevenin(found.voc_v, found.rth_ohm, found.u_voc_v, found.u_rth_ohm)
    path = workshop_sheets() / "modules" / "measured.toml"
    write_text(path, module_text(source, "Measured here"))
    return str(path)


def look_at_module(module: str | None, sensor: str | None) -> ModuleLook:
    """The input with the sensor on it, at a few temperatures."""
    sheet, _, _ = open_module(module)
    curve = open_sensor(sensor).curve
    points = []
    for celsius in AT_C:
        ohm = float(curve.resistance_ohm(celsius))
        volts, amps = float(node_v(sheet.source, ohm)), float(current_a(sheet.source, ohm))
        points.append((celsius, volts, 1000 * amps))
    source = sheet.source
    return ModuleLook(sheet.title, source.voc_v, source.rth_ohm, sheet.assumed, tuple(points))
