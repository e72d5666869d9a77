"""Keeping what was measured of a module: as a sheet of the workshop, and with the case in use.

Each measurement is a sheet of its own, named by when it was made: two cars of one day do not share one,
and what an earlier recording was driven with stays what it was.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from locum.errors import Misuse, Refused, Remark
from locum.jobs.cases import kept_casebook
from locum.jobs.circuit import Circuit, open_circuit
from locum.jobs.desk_facts import Setup
from locum.jobs.files import write_text
from locum.jobs.module_look import ModuleLook, look_at_input
from locum.jobs.module_readings import measured, resistor_of, volts_of
from locum.jobs.modules import MeasureResult, module_text
from locum.jobs.quantities import said_ohm
from locum.locations import workshop_sheets
from locum.physics.circuit import Stage, Thevenin
from locum.sheets.lookup import find_sheet
from locum.sheets.module import read_module

Loads = list[tuple[float, float]]
EXAMPLE = "5.02 2.4k:2.37"


def readings_of(text: str) -> tuple[float, Loads]:
    """(volts open, [(ohm, volts)]) of "5.02 2.4k:2.37 330:0.61"; all faults at once.

    Raises Misuse with an example where it is not of that form.
    """
    first, *rest = text.split() or [""]
    remarks: list[Remark] = []
    open_v, loads = 0.0, []
    for part in (first, *rest):
        ohm, colon, volts = part.partition(":")
        try:
            if part is first:
                open_v = volts_of(part)
            elif not colon:
                remarks.append(
                    Remark("load", part, "resistor:volts, such as 2.4k:2.37", "no colon")
                )
            else:
                loads.append((resistor_of(ohm), volts_of(volts)))
        except Refused as refused:
            remarks += refused.remarks
    if remarks or not loads:
        found = f"'{text}'" + "".join(f"; {remark.found}" for remark in remarks)
        raise Misuse(Remark("module", "module", "volts open, then resistor:volts", found,
                            f"type it like {EXAMPLE}"))  # fmt: skip
    return open_v, loads


def is_name(text: str) -> bool:
    """Whether the words name a sheet instead of holding readings."""
    return len(text.split()) == 1 and ":" not in text


def said_loads(open_v: float | None, loads: Loads) -> str:
    """Readings in words: "5.02 V open, 2.37 V across 2.40 kohm"."""
    first = [] if open_v is None else [f"{open_v:.4g} V open"]
    return ", ".join([*first, *(f"{volts:.4g} V across {said_ohm(ohm)}" for ohm, volts in loads)])


def sheet_text(open_v: float | None, loads: Loads, result: MeasureResult) -> str:
    """The module sheet of these readings. [V, (ohm, V)]"""
    stages = tuple(Stage(s["rth_ohm"], s["below_v"]) for s in result.stages)
    source = Thevenin(result.voc_v, result.rth_ohm, result.u_voc_v, result.u_rth_ohm, stages)
    return module_text(source, "Measured here", said_loads(open_v, loads))


def look_at_readings(text: str, base: Circuit) -> ModuleLook:
    """What readings or a module's name would mean on this circuit; nothing is kept.

    Raises LocumError where they cannot be understood.
    """
    if is_name(text):
        found = find_sheet("module", text)
        return look_at_input(replace(base, module=read_module(found.text, found.name)))
    open_v, loads = readings_of(text)
    return look_at_result(open_v, loads, measured(open_v, loads), base)


def look_at_result(
    open_v: float | None, loads: Loads, result: MeasureResult, base: Circuit
) -> ModuleLook:
    """What measured readings would mean on this circuit; nothing is kept."""
    text = sheet_text(open_v, loads, result)
    return look_at_input(replace(base, module=read_module(text, "measured")))


def circuit_for(setup: Setup) -> Circuit:
    """Sensor and board of a setup, for looking at readings of its module before they are taken over."""
    return open_circuit(setup.sensor, None, None, setup.board_sheet)


def typed_module(setup: Setup, text: str, now: datetime | None = None) -> Setup:
    """The setup with a module by name, or with typed readings, kept as a sheet of the workshop.

    Raises Refused where the stand-in must not be connected to such an input.
    """
    if is_name(text):
        find_sheet("module", text)
        return replace(setup, module=text)
    open_v, loads = readings_of(text)
    return keep(setup, open_v, loads, setup.case, setup.casebook, now)


def keep(
    setup: Setup, open_v: float | None, loads: Loads, case_id: str | None = None,
    casebook: str | None = None, now: datetime | None = None,
) -> Setup:  # fmt: skip
    """Readings kept: with the case if there is one, and as the setup's module.

    Raises Refused where the stand-in must not be connected; the readings are kept with the case all the
    same, and the setup stays.
    """
    result = measured(open_v, loads)
    text = sheet_text(open_v, loads, result)
    name = f"measured-{(now or datetime.now(UTC)):%Y-%m-%d-%H%M%S}"
    if case_id:
        _with_case(case_id, casebook, open_v, loads, None if result.refusals else (name, text))
    if result.refusals:
        raise Refused(result.refusals)
    path = workshop_sheets() / "modules" / f"{name}.toml"
    write_text(path, text)
    return replace(setup, module=str(path))


def _with_case(
    case_id: str, casebook: str | None, open_v: float | None, loads: Loads, sheet: tuple[str, str] | None
) -> None:  # fmt: skip
    """Readings as fields of the case, those of an earlier measurement taken back; and the sheet."""
    told: dict[str, Any] = {
        f"across {said_ohm(ohm)}": {"value": v, "unit": "V"} for ohm, v in loads
    }
    if open_v is not None:
        told["plug open"] = {"value": open_v, "unit": "V"}
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(case_id)
        before = store.case(case_id).fields.get("module_readings") or {}
        gone = dict.fromkeys(before) if isinstance(before, dict) else {}
        store.change_case(case_id, {"module_readings": {**gone, **told}})
        if sheet is not None:
            store.attach_sheet(case_id, "module", *sheet)
