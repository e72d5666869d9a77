"""The circuit of a case as its page shows it: pins, sensor, module, board, and what is known how well."""

from __future__ import annotations

from typing import Any

import numpy as np

from locum.casebook.records import Case
from locum.casebook.store import Store
from locum.errors import LocumError
from locum.jobs.case_rule import rule_in_force
from locum.physics.budget import Budget, temperature_budget
from locum.physics.calibration import Calibration
from locum.physics.choose import choose_codes
from locum.physics.curve import Curve
from locum.physics.network import Network
from locum.physics.uncertainty import network_uncertainty
from locum.report import data as page
from locum.report.numbers import in_unit, sign_of
from locum.settings import load_settings
from locum.sheets.board import read_board
from locum.sheets.module import ModuleSheet, read_module
from locum.sheets.sensor import SensorSheet, read_sensor
from locum.sheets.vehicle import read_vehicle

USUAL_WORKING_C = 90.0
"""Where nothing has been driven yet: a warm engine (common practice). [degC]"""


def rows_of(table: Any, under: str = "") -> list[page.Row]:
    """A table of the case's fields, one line a value; tables inside it with both names.

    A value may be a table ``{value, unit, note}``, as meter readings are.
    """
    made = []
    for key, value in table.items() if isinstance(table, dict) else ():
        label = f"{under} {key}".strip().replace("_", " ")
        if isinstance(value, dict) and "value" in value:
            made.append(page.Row(label, str(value["value"]), str(value.get("unit", "")),
                                 str(value.get("note", ""))))  # fmt: skip
        elif isinstance(value, dict):
            made += rows_of(value, label)
        elif isinstance(value, list):
            made.append(page.Row(label, ", ".join(map(str, value))))
        elif value not in (None, ""):
            made.append(page.Row(label, str(value)))
    return made


def readings_of(rows: Any) -> list[page.Row]:
    """Meter readings as taken: a list of ``{label, value, unit, note}`` or a table."""
    if isinstance(rows, dict):
        return rows_of(rows)
    return [
        page.Row(str(r.get("label", "")), str(r.get("value", "")), str(r.get("unit", "")),
                 str(r.get("note", "")))
        for r in rows or () if isinstance(r, dict)
    ]  # fmt: skip


def rule_words(rule: dict[str, Any]) -> str:
    """The case's rule in plain words: ``10 min after start and sensor above 60 degC``."""
    known = {
        "minutes_after_start": "{} min after start", "above_c": "sensor above {}",
        "below_c": "sensor below {}", "above_km_h": "faster than {} km/h", "state": "in {}",
    }  # fmt: skip
    parts, unit = [], load_settings().unit
    for key, value in rule.items():
        if key.endswith("_c") and isinstance(value, int | float):
            value = f"{in_unit(value, unit):g} {sign_of(unit)}"
        told = f"{value:g}" if isinstance(value, int | float) else str(value)
        parts.append(known.get(key, key.replace("_", " ") + " {}").format(told))
    return " and ".join(parts)


def rule_of(store: Store, case: Case) -> tuple[str, str]:
    """The rule in force, in words, and a remark where recordings were counted by another one.

    What the case says goes before the vehicle sheet; a recording reviewed earlier keeps its count
    until it is reviewed again.
    """
    told = case.fields.get("rule") or {}
    sheet = store.sheet(case.id, "vehicle")
    vehicle = read_vehicle(sheet.text, sheet.name) if sheet else None
    rule = rule_in_force(vehicle, told)
    older = []
    for drive in store.drives(case.id):
        reviews = store.reviews(drive.id)
        then = (
            rule_in_force(vehicle, reviews[-1].result.get("case_rule") or {}) if reviews else rule
        )
        if then != rule:
            older.append(then)
    remark = ""
    if older:
        remark = (f"{len(older)} recordings were counted by another rule, {rule_words(older[-1])}; "
                  f"the case asks for {rule_words(rule)}: `locum drive review` counts them again.")  # fmt: skip
    return rule_words(rule), remark


def sensor_of(store: Store, case_id: str) -> SensorSheet | None:
    """The sensor sheet in use; None where readings were typed or it cannot be read any more."""
    sheet = store.sheet(case_id, "sensor")
    try:
        return read_sensor(sheet.text, sheet.name) if sheet else None
    except LocumError:
        return None


def curve_facts(store: Store, case: Case) -> page.CurveFacts | None:
    sheet = store.sheet(case.id, "sensor")
    if sheet is None:
        return None
    readings = readings_of(case.fields.get("sensor_readings"))
    sensor = sensor_of(store, case.id)
    if sensor is None:
        return page.CurveFacts(sheet.name, sheet.sha256, "readings", sheet.text.strip(), readings=readings)  # fmt: skip
    facts = page.CurveFacts(
        sheet.name, sheet.sha256, sensor.curve.kind, sensor.source or "",
        sensor.curve.coefficients, readings=readings,
    )  # fmt: skip
    for celsius, ohm in getattr(sensor, "points", None) or ():
        facts.points_c.append(float(celsius))
        facts.points_ohm.append(float(ohm))
        facts.residuals_c.append(float(sensor.curve.temperature_c(ohm)) - float(celsius))
    return facts


def module_sheet_of(store: Store, case_id: str) -> ModuleSheet | None:
    sheet = store.sheet(case_id, "module")
    return read_module(sheet.text, sheet.name) if sheet else None


def module_facts(store: Store, case: Case) -> page.ModuleFacts | None:
    module = module_sheet_of(store, case.id)
    readings = readings_of(case.fields.get("module_readings"))
    if module is None:
        return page.ModuleFacts(readings=readings) if readings else None
    s = module.source
    return page.ModuleFacts(s.voc_v, s.u_voc_v, s.rth_ohm, s.u_rth_ohm, s.two_stage, readings)


def setup_facts(store: Store, case: Case) -> list[page.Row]:
    """Tap point, pins and wires as told; board, firmware and calibration as recorded."""
    names = {"end": "tapped at", "connector": "connector", "ground": "ground used"}
    made = [
        page.Row(names.get(row.label, row.label), row.value, row.unit, row.note)
        for row in rows_of(case.fields.get("tap"))
    ]
    for serial, board in _boards(store, case.id).items():
        words = f"{board.get('model', 'board')}, serial {serial}"
        made.append(page.Row("board", words, note=f"firmware {board.get('firmware', 'not told')}"))
        stored = store.calibration(serial)
        if stored is None:
            made.append(page.Row("calibrated", "never: its values are nominal"))
        else:
            meter = stored.meter or "its own references"
            made.append(page.Row("calibrated", stored.made_utc[:10], note=f"against {meter}"))
    return made


def _boards(store: Store, case_id: str) -> dict[str, dict[str, Any]]:
    """Serial to what the board said of itself, of every board that recorded for the case."""
    drives = store.drives(case_id)
    return {str(d.board["serial"]): d.board for d in drives if d.board.get("serial")}


def working_c(drives: list[page.DriveFacts]) -> float:
    """The temperature the sensor mostly had while it was recorded. [degC]"""
    known = [c for d in drives for c in d.temperature_c if c is not None]
    return float(np.median(known)) if known else USUAL_WORKING_C


def budget_at(store: Store, case_id: str, celsius: float) -> Budget | None:
    """The uncertainty budget of the stand-in on this case's curve; None without a calibration.

    It holds for the newest drive's board as last calibrated, with the module as measured.
    """
    sensor, module = sensor_of(store, case_id), module_sheet_of(store, case_id)
    boards = [d for d in store.drives(case_id) if d.board.get("serial")]
    if sensor is None or module is None or not boards:
        return None
    stored = store.calibration(str(boards[-1].board["serial"]))
    sheet = next((s for s in boards[-1].sheets if s.role == "board"), None)
    if stored is None or sheet is None:
        return None
    try:
        return _budget(sensor.curve, module, sheet.text, sheet.name, stored.body, celsius)
    except LocumError:  # of another network, out of reach, older format: then there is no budget
        return None


def _budget(
    curve: Curve, module: ModuleSheet, board: str, name: str, body: dict, celsius: float
) -> Budget:
    calibration = Calibration.from_dict(body)
    network = Network.from_board(read_board(board, name)).calibrated(calibration)
    target = np.array([float(curve.resistance_ohm(celsius))])
    choice = choose_codes(network, target, module.source)
    known = network_uncertainty(
        calibration, network, choice.codes, choice.out, choice.hot, module.source
    )
    return temperature_budget(curve, celsius, known.contributions(0))


def budget_rows(budget: Budget) -> list[page.BudgetRow]:
    """The lines that matter, largest first; what is below a thousandth of the whole is left out."""
    rows = sorted(budget.rows, key=lambda row: -row.share)
    return [page.BudgetRow(r.name, r.u_ohm, r.u_c) for r in rows if r.share >= 1e-3]
