"""The chosen profile as it would be played on this sensor, module and board: steps, doubts, refusals."""

from __future__ import annotations

import re
from dataclasses import dataclass

from locum.errors import LocumError, Remark
from locum.jobs.circuit import Circuit
from locum.jobs.profiles import open_profile, plan_of
from locum.sheets.lookup import find_sheet, sheet_names

TITLE = re.compile(r'^title\s*=\s*"([^"]*)"', re.MULTILINE)


@dataclass(frozen=True)
class PlanLook:
    """A profile compiled, or why it could not be."""

    name: str
    ok: bool
    """It may be run."""
    steps: int = 0
    seconds: float = 0.0
    worst_c: float = 0.0
    """Set ohms against those each step was made for, at worst. [K]"""
    coldest_c: float = 0.0
    hottest_c: float = 0.0
    """The ends of what the module will be told. [degC]"""
    refusals: tuple[Remark, ...] = ()
    warnings: tuple[Remark, ...] = ()


def known_profile(name: str) -> str:
    """The name, if there is a profile of it. Raises Refused with the nearest names otherwise."""
    find_sheet("profile", name)
    return name


def look_at_plan(name: str, circuit: Circuit) -> PlanLook:
    """The profile of that name on a circuit; what cannot be read or compiled is told as refusals.

    An hour in steps of a tenth of a second takes half a second.
    """
    try:
        plan = plan_of(open_profile(name), circuit)
    except LocumError as error:
        return PlanLook(name, False, refusals=tuple(error.remarks))
    told = set(circuit.remarks)  # what the rows of sensor, module and board say already
    coldest_c, hottest_c = (float(f(plan.celsius)) for f in (min, max)) if len(plan) else (0.0, 0.0)
    return PlanLook(
        name, plan.ok, len(plan), plan.seconds, plan.worst_error_c, coldest_c, hottest_c,
        tuple(plan.refusals), tuple(remark for remark in plan.warnings if remark not in told),
    )  # fmt: skip


@dataclass(frozen=True)
class AtHand:
    """A sheet that can be chosen by its name."""

    name: str
    origin: str
    """workshop or shipped."""
    title: str


def at_hand(kind: str) -> tuple[AtHand, ...]:
    """Sheets of a kind (sensor, module, vehicle, profile), the workshop's own first."""
    found = sheet_names(kind)
    order = sorted(found, key=lambda name: (found[name] != "workshop", name))
    return tuple(AtHand(name, found[name], _title(kind, name)) for name in order)


def _title(kind: str, name: str) -> str:
    """The title its text gives; empty where it has none or cannot be read."""
    try:
        found = TITLE.search(find_sheet(kind, name).text)
    except LocumError:
        return ""
    return found[1] if found else ""
