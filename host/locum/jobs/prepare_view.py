"""What must be true before anything is connected: one row each, with its word and the way to fix it.

From top to bottom: cautions, sensor, module, vehicle lines, where one can reach, the board and what it
says of itself (``jobs.prepare_board``), the plan, the case. Nothing is computed that takes longer than a look.
"""

from __future__ import annotations

from datetime import UTC, datetime

from locum.jobs.desk_facts import Snapshot
from locum.jobs.plan_look import PlanLook
from locum.jobs.prepare_board import board_rows
from locum.jobs.prepare_row import Row, sentence
from locum.jobs.quantities import readings_typed, said_c, said_ohm, said_readings
from locum.jobs.reach import PLACES

__all__ = ["Row", "rows"]


def rows(
    snapshot: Snapshot, cautions_read: bool, plan: PlanLook | None = None, unit: str = "celsius",
    now: datetime | None = None,
) -> list[Row]:  # fmt: skip
    """All rows from top to bottom, as things stand.

    ``plan`` is the chosen profile as looked at; None while it is being looked at, or none is chosen.
    ``now`` decides how old a calibration is.
    """
    return [
        _cautions(cautions_read, snapshot), _sensor(snapshot, unit), _module(snapshot), _lines(snapshot),
        _reach(snapshot), *board_rows(snapshot, unit, now or datetime.now(UTC)),
        _plan(snapshot.setup.profile, plan, unit), _case(snapshot),
    ]  # fmt: skip


def _cautions(read: bool, snapshot: Snapshot) -> Row:
    away = snapshot.glance is not None and snapshot.glance.standing_in and not snapshot.hidden
    fix = "? shows them whole; a: I have read them"
    if away and not read:
        return Row("cautions", "missing", "and the stand-in is on: press a once they are read", fix)
    return Row("cautions", "ready" if read else "missing",
               "two people on the road; the truth is hidden while standing in; manual and law first",
               fix)  # fmt: skip


def _sensor(snapshot: Snapshot, unit: str) -> Row:
    known = not any(r.code == "sensor_assumed" for r in snapshot.circuit_remarks)
    told = snapshot.setup.sensor or snapshot.sheets.get("sensor", "")
    if not (known and told):
        return Row("sensor", "missing",
                   "none told: the commonest is taken, degrees are a rough guide",
                   "type: sensor 20C=2.5k,82C=300  or  sensor NAME")  # fmt: skip
    if "=" in told:
        told = said_readings(readings_typed(told, "celsius"), unit)
    return Row("sensor", "ready", told)


def _module(snapshot: Snapshot) -> Row:
    known = not any(r.code == "pull_up_assumed" for r in snapshot.circuit_remarks)
    told = snapshot.sheets.get("module", "")
    fix = "r: readings one at a time, or type module NAME"
    if not (known and told):
        return Row("module", "missing",
                   "not measured: 1 kohm to 5 V is assumed", fix)  # fmt: skip
    if snapshot.circuit is None:
        return Row("module", "ready", told)
    source = snapshot.circuit.module.source
    pull_up = f"{said_ohm(source.rth_ohm)} to {source.voc_v:.2f} V"
    second = f", {said_ohm(source.stages[0].rth_ohm)} when hot" if source.stages else ""
    return Row("module", "ready", f"{told}: {pull_up}{second}")


def _lines(snapshot: Snapshot) -> Row:
    told = snapshot.sheets.get("vehicle", "") or snapshot.setup.vehicle
    fix = "d: learn it by driving, or type vehicle NAME"
    if not told:
        return Row("lines", "missing",
                   "not told: kick-outs are not counted", fix)  # fmt: skip
    sheet = snapshot.circuit.vehicle if snapshot.circuit else None
    if sheet is None:
        return Row("lines", "ready", told)
    lines = f"{len(sheet.lines)} lines" if len(sheet.lines) != 1 else "1 line"
    if not sheet.states:
        return Row("lines", "missing", f"{told}: {lines}, no state: kick-outs are not counted", fix)
    tops = " or ".join(f"'{state.name}'" for state in sheet.states if state.top)
    return Row("lines", "ready", f"{told}: {lines}; a kick-out is the loss of {tops}")


def _reach(snapshot: Snapshot) -> Row:
    place, virtual = snapshot.setup.reach, snapshot.virtual
    if not place and virtual:
        return Row("reach", "ready", "the virtual van's sensor plug")
    if not place:
        return Row("reach", "missing", "not told: where you can get at the circuit",
                   "type: reach sensor, module, splice or nowhere")  # fmt: skip
    name, means = PLACES[place]
    return Row("reach", "ready", f"{name}: {means}")


def _plan(name: str | None, plan: PlanLook | None, unit: str) -> Row:
    if not name:
        return Row("plan", "missing", "none chosen; not needed to listen, hold or follow",
                   "p chooses a profile")  # fmt: skip
    if plan is None or plan.name != name:
        return Row("plan", "missing", f"{name}: being looked at", "wait a moment")
    if plan.refusals:
        return Row("plan", "refused", f"{name}: " + " ".join(sentence(r) for r in plan.refusals),
                   "p chooses another profile")  # fmt: skip
    span = f"{said_c(plan.coldest_c, unit, 0)} to {said_c(plan.hottest_c, unit, 0)}"
    told = f"{name}: {plan.steps:,} steps, {plan.seconds / 60:.0f} min, {span}"
    doubts = "\n".join(sentence(remark) for remark in plan.warnings)
    return Row("plan", "ready", told, doubt=doubts)


def _case(snapshot: Snapshot) -> Row:
    return Row("case", "ready" if snapshot.case_id else "missing",
               snapshot.case_title or snapshot.case_id or "not needed yet: the recording is filed later",
               "press 4")  # fmt: skip
