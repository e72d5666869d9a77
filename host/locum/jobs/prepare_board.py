"""The board's rows: found, tested, calibrated, line safe, supply, record."""

from __future__ import annotations

import math
from datetime import datetime

from locum.errors import LocumError
from locum.jobs.desk_facts import Snapshot
from locum.jobs.glance import Glance
from locum.jobs.prepare_row import Row, sentence
from locum.jobs.quantities import said_c
from locum.jobs.trips import trip_remark
from locum.physics.calibration import SPAN_K, Calibration

SUPPLIES = {"host": "this computer", "power_bank": "a power bank"}
LINE_V = (-0.5, 5.3)
"""Between these the relay may close; the board keeps the same limits itself. [V]"""
CALIBRATE = "K: the board measures itself, two minutes"


def board_rows(snapshot: Snapshot, unit: str, now: datetime) -> list[Row]:
    """Found first; what a board says of itself only while one is recording."""
    glance = snapshot.glance
    if glance is None:
        return [_found(snapshot)]
    return [
        _found(snapshot), *_let_go(glance), _tested(snapshot), _calibrated(snapshot, glance, unit, now),
        *_line(glance), Row("supply", "ready", SUPPLIES.get(glance.supply, "not known")),
        _record(snapshot, glance),
    ]  # fmt: skip


def _record(snapshot: Snapshot, glance: Glance) -> Row:
    """Also how long the laptop may be shut, or asleep, before something is missing."""
    fix = "free some disk space"
    if glance.trouble:
        return Row("record", "refused", glance.trouble, fix)
    if snapshot.kept_alone_s is None:
        return Row("record", "ready", "written down as it comes", fix)
    quiet, busiest = (
        f"{seconds // 60} min" if seconds >= 120 else f"{seconds} s"
        for seconds in snapshot.kept_alone_s
    )
    told = f"written down; alone the board keeps {busiest} to {quiet}"
    return Row("record", "ready", told, fix)


def _found(snapshot: Snapshot) -> Row:
    if snapshot.phase == "recording":
        kind = "VIRTUAL BOARD, in an invented van" if snapshot.virtual else snapshot.board
        return Row("board", "ready", kind)
    newest = snapshot.remarks[-1].text if snapshot.remarks else "not opened"
    return Row("board", "missing", snapshot.trouble_words or newest,
               "plug it in. Type: board PORT, board virtual, or board none to look for one anew")  # fmt: skip


def _let_go(glance: Glance) -> list[Row]:
    if glance.state != "tripped":
        return []
    remark = trip_remark(glance.cause)
    return [Row("let go", "refused", remark.found, remark.remedy)]


def _tested(snapshot: Snapshot) -> Row:
    test = snapshot.self_test
    if test is None:
        return Row("self-test", "missing", "not done: the board was not at rest when it was opened",
                   "s: the board looks at itself; the real sensor must be connected")  # fmt: skip
    if test.passed:
        return Row("self-test", "ready", test.words)
    fixes = "\n".join(dict.fromkeys(fault.fix for fault in test.faults))
    return Row("self-test", "refused", test.words, f"{fixes}\nthen s tests again")


def _calibrated(snapshot: Snapshot, glance: Glance, unit: str, now: datetime) -> Row:
    calibration = snapshot.circuit.calibration if snapshot.circuit else None
    remarks = snapshot.circuit_remarks
    if calibration is not None:
        return _of_a_calibration(calibration, glance, unit, now)
    if any(r.code == "not_calibrated" for r in remarks):
        stale = [sentence(r) for r in remarks if r.code.startswith("calibration_")]
        told = " ".join(["nominal values, up to 20 % off.", *stale]).rstrip(".")
        return Row("calibrated", "missing", told, CALIBRATE)
    return Row("calibrated", "ready", "the board's own tables")


def _of_a_calibration(calibration: Calibration, glance: Glance, unit: str, now: datetime) -> Row:
    """Its age, and the span of the board's temperature in which it holds."""
    low, high = (said_c(calibration.ambient_c + k, unit, 0) for k in (-SPAN_K, SPAN_K))
    made = datetime.fromisoformat(calibration.date_utc)
    days = max((now - made).days, 0)
    age = {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")
    told = f"on {calibration.date_utc[:10]}, {age}; holds while the board is at {low} to {high}"
    if glance.board_c is not None:
        told += f", now {said_c(glance.board_c, unit, 0)}"
    try:
        doubts = calibration.check_use(calibration.board_serial, now.isoformat(), glance.board_c)
    except LocumError as error:
        return Row("calibrated", "refused", " ".join(sentence(r) for r in error.remarks), CALIBRATE)
    doubt = "\n".join([*(sentence(r) for r in doubts), *([CALIBRATE] if doubts else [])])
    return Row("calibrated", "ready", told, doubt=doubt)


def _line(glance: Glance) -> list[Row]:
    if not math.isfinite(glance.node_v):
        return []
    low, high = LINE_V
    safe = low < glance.node_v < high
    return [Row("line", "ready" if safe else "refused", f"{glance.node_v:.2f} V",
                "look for a short to supply; only listen until it is found")]  # fmt: skip
