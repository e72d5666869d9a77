"""What a job works on: sensor, module, vehicle and board, each from a sheet or from words.

A :class:`Circuit` holds the checked objects, the texts they came from (to be copied verbatim into
the record) and what a reader must know: assumed pull-up, two-point curve, no calibration.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from locum.errors import Refused, Remark
from locum.jobs.quantities import readings_typed
from locum.physics.calibration import Calibration
from locum.physics.curve import Curve
from locum.physics.network import Network
from locum.physics.readings import curve_from_readings
from locum.sheets.board import read_board
from locum.sheets.lookup import find_sheet
from locum.sheets.module import ASSUMED, ModuleSheet, read_module
from locum.sheets.sensor import read_sensor
from locum.sheets.vehicle import VehicleSheet, read_vehicle

USUAL_READINGS = ((20.0, 2500.0),)
"""Where no sensor is given: the commonest coolant sensor, 2.5 kohm at 20 degC (common practice)."""


@dataclass(frozen=True)
class Sensor:
    name: str
    curve: Curve
    text: str
    circuit: str = ""
    """coolant, transmission, intake ...; empty where not told."""
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True)
class Circuit:
    sensor: Sensor
    module: ModuleSheet
    network: Network
    board: dict[str, Any]
    """The board sheet, checked, as plain data."""
    vehicle: VehicleSheet | None = None
    texts: dict[str, tuple[str, str]] = field(default_factory=dict)
    """Role -> (name, text) of every sheet used."""
    remarks: tuple[Remark, ...] = ()
    calibration: Calibration | None = None
    """The board's own tables, where it has been calibrated."""
    case_rule: dict[str, Any] = field(default_factory=dict)
    """What the case itself says of time that counts; it goes before the vehicle sheet."""

    def can(self, ability: str) -> bool:
        return bool(self.board.get("abilities", {}).get(ability))


def open_sensor(words: str | None, case_sheets: dict[str, str] | None = None) -> Sensor:
    """A sheet by name or path, readings such as "20C=1.5k,82C=300", or the usual sensor.

    A bare temperature among the readings is in the unit of the settings.
    """
    if words and "=" in words:
        pairs = readings_typed(words)
        fit = curve_from_readings(pairs)
        text = "".join(f"# reading: {c:g} degC, {r:g} ohm\n" for c, r in pairs)
        return Sensor("readings", fit.curve, text, "", tuple(fit.warnings))
    if words:
        found = find_sheet("sensor", words, case_sheets)
        sheet = read_sensor(found.text, found.name)
        return Sensor(found.name, sheet.curve, found.text, sheet.circuit, sheet.remarks)
    fit = curve_from_readings(USUAL_READINGS)
    note = Remark(
        "sensor_assumed", "sensor", "a sensor sheet or two meter readings", "neither",
        "the commonest coolant sensor is taken; temperatures are a rough guide, ohms are exact",
    )  # fmt: skip
    return Sensor("usual", fit.curve, "# no sensor given\n", "", (note,))


def open_module(words: str | None, case_sheets: dict[str, str] | None = None):
    """The module sheet and its remarks; the assumed one where none is given."""
    if words:
        found = find_sheet("module", words, case_sheets)
        return read_module(found.text, found.name), found.text, ()
    note = Remark(
        "pull_up_assumed", "module", "the module's pull-up, measured",
        "none: 1 kohm to 5 V is assumed", "measure it with `locum module measure`",
    )  # fmt: skip
    return ASSUMED, "# no module given: 1 kohm to 5 V assumed\n", (note,)


def open_board(words: str | None) -> tuple[dict[str, Any], str, str]:
    """The board sheet as plain data, its name and text."""
    found = find_sheet("board", words or "reference")
    return read_board(found.text, found.name), found.name, found.text


def open_circuit(
    sensor: str | None = None,
    module: str | None = None,
    vehicle: str | None = None,
    board_sheet: str | None = None,
    case_sheets: dict[str, str] | None = None,
) -> Circuit:
    """Everything a stand-in needs, or Refused with the faults of all sheets at once."""
    faults: list[Remark] = []

    def guarded(read, *arguments):
        try:
            return read(*arguments)
        except Refused as refused:
            faults.extend(refused.remarks)
            return None

    the_sensor = guarded(open_sensor, sensor, case_sheets)
    the_module = guarded(open_module, module, case_sheets)
    the_board = guarded(open_board, board_sheet)
    the_vehicle = guarded(_open_vehicle, vehicle, case_sheets) if vehicle else (None, "", "")
    if faults or not (the_sensor and the_module and the_board and the_vehicle):
        raise Refused(faults)
    board, board_name, board_text = the_board
    network = Network.from_board(board)
    texts = {
        "sensor": (the_sensor.name, the_sensor.text),
        "module": (the_module[0].name, the_module[1]),
        "board": (board_name, board_text),
    }
    if the_vehicle[0]:
        texts["vehicle"] = (the_vehicle[1], the_vehicle[2])
    return Circuit(
        the_sensor, the_module[0], network, board, the_vehicle[0], texts,
        (*the_sensor.remarks, *the_module[2]),
    )  # fmt: skip


def _open_vehicle(words: str, case_sheets: dict[str, str] | None):
    found = find_sheet("vehicle", words, case_sheets)
    return read_vehicle(found.text, found.name), found.name, found.text
