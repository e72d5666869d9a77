"""The rule for time that counts: the vehicle sheet's, with what the case says in its place.

A case's ``rule`` is a table (minutes_after_start, above_c, below_c, above_km_h, state). What it names
replaces the sheet's; what it does not name stays as the sheet has it.
"""

from __future__ import annotations

from typing import Any

from locum.casebook.store import Store
from locum.errors import Refused, Remark
from locum.jobs.circuit import Circuit
from locum.review.context import ExposureRule
from locum.sheets.vehicle import VehicleSheet

NUMBERS = ("minutes_after_start", "above_c", "below_c", "above_km_h")


def case_rule(store: Store, case_id: str | None) -> dict[str, Any]:
    """What the case itself says; empty where it says nothing or there is no case."""
    return dict(store.case(case_id).fields.get("rule") or {}) if case_id else {}


def rule_in_force(vehicle: VehicleSheet | None, told: dict[str, Any]) -> dict[str, Any]:
    """Both together, by the case's words; Refused for a value that is no number."""
    sheet = vehicle.exposure if vehicle else None
    rule: dict[str, Any] = {}
    if sheet and sheet.after_min:
        rule["minutes_after_start"] = sheet.after_min
    if sheet and sheet.above_c is not None:
        rule["above_c"] = sheet.above_c
    if sheet and sheet.states:
        rule["state"] = " or ".join(sheet.states)
    faults = [
        Remark("case_rule", f"rule {key}", "a number", repr(told[key]), "correct the case's rule")
        for key in NUMBERS
        if key in told and not _is_number(told[key])
    ]
    if faults:
        raise Refused(faults)
    return {**rule, **told}


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def exposure_rule(circuit: Circuit) -> ExposureRule:
    """The rule in review's terms: temperatures as the sensor's ohms."""
    rule = rule_in_force(circuit.vehicle, circuit.case_rule)
    sheet = circuit.vehicle.exposure if circuit.vehicle else None
    states = (rule["state"],) if "state" in circuit.case_rule else (sheet.states if sheet else ())
    curve = circuit.sensor.curve
    warmer, colder = (
        None if rule.get(key) is None else float(curve.resistance_ohm(float(rule[key])))
        for key in ("above_c", "below_c")
    )
    if float(curve.slope_ohm_per_k(50.0)) > 0:
        warmer, colder = colder, warmer
    return ExposureRule(
        after_min=float(rule.get("minutes_after_start", 0.0)),
        below_ohm=warmer,
        above_ohm=colder,
        above_kmh=rule.get("above_km_h"),
        in_state=states[0] if states else None,
    )
