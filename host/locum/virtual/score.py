"""Scores a conclusion against the secret.

A conclusion names parts, clears parts, or does neither. Right is what the scenario accepts for any
guilty part. What is true but not accepted, and what leaves the matter open, is undecided. Naming
none but innocent parts is blame; calling a fault normal, or a guilty circuit innocent, is a wrong
clearance.
"""

from __future__ import annotations

from .case import Case
from .hidden import CONCLUSIONS, SENSOR_CIRCUIT
from .scenario import Scenario

OUTCOMES = ("right", "undecided", "blamed_wrongly", "wrongly_cleared")

NAMED = {
    "sensor_side": frozenset({"sensor_open", "sensor_drift", "connector"}),
    "sensor_slow_error": frozenset({"sensor_drift"}),
    "connector": frozenset({"connector"}),
    "harness": frozenset({"harness"}),
    "sensor_circuit": SENSOR_CIRCUIT,
    "circuit_not_reproduced_after_tap": SENSOR_CIRCUIT,
    "module_or_ground": frozenset({"ground"}),
    "another_input": frozenset({"another_input"}),
    "driver_or_brake_input": frozenset({"another_input", "nothing"}),
    "outputs_or_hydraulics": frozenset({"hydraulic"}),
}
"""The parts a conclusion speaks against."""


def outcome(scenario: Scenario, case: Case, conclusion: str) -> str:
    """One of ``OUTCOMES`` for a conclusion of ``CONCLUSIONS``; ValueError for any other."""
    if conclusion not in CONCLUSIONS:
        raise ValueError(f"unknown conclusion '{conclusion}'")
    guilty = case.truth.guilty
    if any(conclusion in scenario.accept[part] for part in guilty):
        return "right"
    if conclusion in NAMED:
        return "undecided" if NAMED[conclusion] & guilty else "blamed_wrongly"
    if conclusion == "normal":
        return "undecided" if "nothing" in guilty else "wrongly_cleared"
    if conclusion == "not_sensor_circuit":
        return "wrongly_cleared" if guilty & SENSOR_CIRCUIT else "undecided"
    if conclusion == "undecided" and guilty == {"nothing"}:
        return "right"
    return "undecided"
