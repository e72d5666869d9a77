"""What can be typed in Prepare: one line changes one thing, and is told as it was understood."""

from __future__ import annotations

from dataclasses import replace

from locum.errors import Misuse, Refused, Remark
from locum.jobs.desk_facts import Setup
from locum.jobs.module_kept import is_name, readings_of, said_loads, typed_module
from locum.jobs.plan_look import known_profile
from locum.jobs.quantities import readings_typed, said_readings, written_out
from locum.jobs.reach import PLACES, circuit_of, keep_reach, place_of, refused_circuit
from locum.jobs.sensor_look import look_at_sensor
from locum.sheets.lookup import find_sheet

LINES = (
    ("sensor 20C=2.5k,82C=300", "meter readings of the sensor"),
    ("sensor NAME", "a sensor sheet by its name"),
    ("module 5.02 2.4k:2.37", "meter readings of the module: open, then with a resistor"),
    ("module NAME", "a module sheet by its name"),
    ("vehicle NAME", "what the watched lines mean, by a sheet's name"),
    ("vehicle none", "listen without knowing what the lines mean"),
    ("reach sensor", "where one can reach: sensor, module, splice or nowhere"),
    ("circuit NAME", "which circuit it is, such as coolant"),
    ("board PORT", "the board on that port; or virtual, or none to look for one"),
    ("plan NAME", "a profile to be played; none forgets it"),
)  # fmt: skip
"""Every line that can be typed in Prepare, with what it tells."""
WORDS = tuple(dict.fromkeys(line.split()[0] for line, _ in LINES))


def changed_setup(setup: Setup, line: str, unit: str | None = None) -> Setup:
    """The setup after a typed line of ``LINES``; a bare temperature is in ``unit``, else the settings'.

    Raises LocumError in plain words if it cannot be understood; the setup is then unchanged.
    """
    word, _, rest = line.strip().partition(" ")
    word, rest = word.lower(), rest.strip()
    refused = refused_circuit(line) if word not in ("board", "vehicle", "plan") else None
    if refused is not None:
        raise Refused(refused)
    if word not in WORDS or not rest:
        raise Misuse(
            Remark("prepare", "", "one of " + "; ".join(line for line, _ in LINES), f"'{line}'",
                   "type it like that")
        )  # fmt: skip
    if word == "sensor":
        return replace(setup, sensor=_sensor(rest, unit))
    if word == "module":
        return typed_module(setup, rest)
    if word == "reach":
        place = place_of(rest)
        if setup.case:
            keep_reach(place, setup.case, setup.casebook)
        return replace(setup, reach=place)
    if word == "circuit":
        named = circuit_of(rest)
        return replace(setup, circuit=named.sheet or named.words)
    told = None if rest.lower() == "none" else rest
    if word == "vehicle":
        return replace(setup, vehicle=told and find_sheet("vehicle", told) and told)
    if word == "plan":
        return replace(setup, profile=told and known_profile(told))
    return replace(setup, board=told)


def _sensor(text: str, unit: str | None) -> str:
    """Readings with their units, or the name of a sheet; either is looked at before it is taken."""
    told = with_unit(text, unit)
    look_at_sensor(told)
    return told


def with_unit(text: str, unit: str | None) -> str:
    """Readings with their units written out; the name of a sheet as it is."""
    return written_out(readings_typed(text, unit)) if "=" in text else text


def understood(setup: Setup, line: str, unit: str = "celsius") -> str:
    """What a typed line was taken for, in words."""
    word, _, rest = line.strip().partition(" ")
    word, rest = word.lower(), rest.strip()
    if word == "reach":
        name, means = PLACES[setup.reach]
        return f"understood: {name}. {means}"
    if word == "sensor" and "=" in rest:
        rest = said_readings(readings_typed(setup.sensor or ""), unit)
    elif word == "module" and not is_name(rest):
        rest = said_loads(*readings_of(rest))
    elif word == "circuit":
        rest = setup.circuit
    return f"understood: {word} {rest}"
