"""``locum profile check`` and ``profile list``."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from locum.errors import Misuse, Remark
from locum.jobs.circuit import Circuit, open_circuit
from locum.jobs.jsontext import Result
from locum.physics.uncertainty import network_uncertainty
from locum.planning.compile import DEFAULT_RESOLUTION_C, compile_plan
from locum.planning.plan import Plan
from locum.planning.timeline import Span, timeline
from locum.sheets.lookup import find_sheet, sheet_names
from locum.sheets.profile import ProfileSheet, Segment, read_profile
from locum.sheets.recorded import read_recording

FINEST_C, COARSEST_C = 0.001, 10.0
"""Resolutions of a plan: finer is below every board's steps, coarser is no profile any more. [K]"""


def open_profile(name: str, time_column: str = "", value_column: str = "") -> ProfileSheet:
    """A profile by path or name, of either kind of file."""
    found = find_sheet("profile", name)
    csv = bool(found.path and found.path.suffix.lower() == ".csv")
    if not csv:
        folder = found.path.parent if found.path else None
        return read_profile(found.text, found.path.name if found.path else found.name, folder)
    title = found.path.name if found.path else found.name
    recording = read_recording(found.text, title, time_column, value_column)
    segment = Segment("recorded", {"recording": recording}, title)
    return ProfileSheet(found.name, found.name, recording.unit, (segment,), text=found.text)


def smoothing_remark(profile: ProfileSheet, spans: list[Span]) -> list[Remark]:
    """Says what smoothing within the rounding did to a recording in whole degrees."""
    remarks = []
    for where, recording in profile.recordings:
        if recording.whole_degrees:
            steepest = max(s.steepest_c_per_s() for s in spans if s.kind == "recorded")
            jump = max(abs(b - a) / (t1 - t0) for a, b, t0, t1 in zip(
                recording.value, recording.value[1:], recording.time_s, recording.time_s[1:],
                strict=False))  # fmt: skip
            remarks.append(
                Remark(
                    "smoothed",
                    where,
                    "a recording finer than whole degrees",
                    f"whole degrees, up to {jump:.2f} K/s between rows",
                    f"smoothed within half a degree to at most {steepest:.2f} K/s, then judged",
                )  # fmt: skip
            )
    return remarks


def plan_of(
    profile: ProfileSheet,
    circuit: Circuit,
    fast: bool = False,
    resolution_c: float = DEFAULT_RESOLUTION_C,
    spans: list[Span] | None = None,
) -> Plan:
    """The plan of a profile on a circuit, with the remarks both have earned."""
    spans = timeline(profile, circuit.sensor.curve, fast) if spans is None else spans
    plan = compile_plan(
        spans, circuit.sensor.curve, circuit.network, circuit.module, name=profile.name,
        resolution_c=resolution_c, fast=fast or profile.fast, on_silence=profile.on_silence,
        circuit=circuit.sensor.circuit,
    )  # fmt: skip
    if circuit.calibration is not None:
        plan = replace(plan, expanded_u_c=stated_u_c(plan, circuit))
    plan.warnings[:0] = [*circuit.remarks, *profile.remarks, *smoothing_remark(profile, spans)]
    return plan


def stated_u_c(plan: Plan, circuit: Circuit) -> float:
    """Expanded uncertainty (k = 2) of the worst step of a plan on a calibrated board. [K]"""
    choice, calibration = plan.choice, circuit.calibration
    assert calibration is not None
    known = network_uncertainty(
        calibration, circuit.network, choice.codes, choice.out, choice.hot, circuit.module.source
    )
    slope = np.abs(circuit.sensor.curve.slope_ohm_per_k(plan.celsius))
    return float((2 * known.u_ohm / slope).max())


@dataclass
class CheckResult(Result):
    plan: Plan
    sensor: str
    module: str
    board: str

    def as_json(self) -> dict[str, Any]:
        head = {"sensor": self.sensor, "module": self.module, "board": self.board}
        return {**self.plan.as_json(), **head}

    @property
    def exit_code(self) -> int:
        return 0 if self.plan.ok else 1


def check(
    profile: str,
    sensor: str | None = None,
    module: str | None = None,
    board_sheet: str | None = None,
    fast: bool = False,
    time_column: str = "",
    value_column: str = "",
    resolution: float = DEFAULT_RESOLUTION_C,
) -> CheckResult:
    """What a profile becomes on this board, and every objection to it."""
    if not FINEST_C <= resolution <= COARSEST_C:
        raise Misuse(Remark("resolution", "--resolution", f"{FINEST_C:g} to {COARSEST_C:g} K",
                            f"{resolution:g}", "0.05 is usual"))  # fmt: skip
    circuit = open_circuit(sensor, module, None, board_sheet)
    sheet = open_profile(profile, time_column, value_column)
    plan = plan_of(sheet, circuit, fast, resolution)
    if not board_sheet:
        plan.warnings.append(
            Remark(
                "board_assumed", "board", "a board sheet", "none", "the reference board is taken"
            )
        )
    return CheckResult(plan, circuit.sensor.name, circuit.module.name, circuit.texts["board"][0])


@dataclass
class NamesResult(Result):
    profiles: list[dict[str, str]]


def names() -> NamesResult:
    """Name, title and origin of every profile at hand."""
    rows = []
    for name, origin in sorted(sheet_names("profile").items()):
        rows.append({"name": name, "title": open_profile(name).title, "origin": origin})
    return NamesResult(rows)
