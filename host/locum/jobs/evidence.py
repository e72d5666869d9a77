"""From the casebook to the evidence that is weighed: nothing but what was written down.

A drive's newest review, its stretches and marks become a :class:`verdict.evidence.Drive`; the case
adds the customer's account, the repair's date and the defect somebody saw. A fresh process with
nothing but the file comes to the same verdict.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from locum.casebook.records import Case, Stretch
from locum.casebook.records import Drive as StoredDrive
from locum.casebook.store import Store
from locum.settings import load_settings
from locum.sheets.vehicle import VehicleSheet, read_vehicle
from locum.verdict import evidence as weighing

KINDS = {"glitch": "provoke", "open": "provoke", "short": "provoke", "hold": "follow",
         "swap": "swap"}  # fmt: skip
"""Kinds of drive by the command -> what they were driven for."""
CONNECTED = {"real": "real", "follow": "follow", "stand_in": "hold"}
OPEN_OHM = 1e9
"""An open circuit in evidence. [ohm]"""
ON_ROAD = ("listen", "provoke", "follow", "reverse", "quiet", "swap")


def _column(rows: list[dict], key: str, scale: float = 1.0) -> np.ndarray:
    return np.array([row[key] for row in rows], float) * scale


def _glitches(rows: list[dict], channel: str) -> weighing.Glitches:
    mine = [row for row in rows if row["channel"] == channel and not row["ours"]]
    return weighing.Glitches(
        _column(mine, "t_ms", 1e-3), _column(mine, "length_ms", 1e-3),
        np.array([row["towards"] == "cold" for row in mine], bool),
        _depths_ohm(mine),
    )  # fmt: skip


def _depths_ohm(rows: list[dict]) -> np.ndarray | None:
    """Resistance of each glitch at its worst; None where the pull-up was not known. [ohm]

    JSON has no infinity: a glitch that reached the open side is kept without a number.
    """
    ohms = [OPEN_OHM if row["depth_ohm"] is None and row["kind"] == "range" else row["depth_ohm"]
            for row in rows]  # fmt: skip
    return None if None in ohms else np.minimum(np.array(ohms, float), OPEN_OHM)


def _injected_ohm(rows: list[dict]) -> np.ndarray | None:
    """What the module saw of each injection; None of a review that did not keep it. [ohm]"""
    made = {"open": OPEN_OHM, "short": 0.0}
    ohms = [made.get(row["kind"], row.get("ohm")) for row in rows]
    return None if None in ohms else np.array(ohms, float)


def _stretches(
    stretches: tuple[Stretch, ...], sources: list, seconds: float
) -> tuple[weighing.Stretch, ...]:
    """What was really connected: the intention of each stretch, cut where the record says that
    the relay let go before its end."""
    changes = [(t_ms / 1000, name) for t_ms, name in sources]
    made = []
    for stretch in stretches:
        start_s = stretch.start_ms / 1000
        end_s = seconds if stretch.end_ms is None else stretch.end_ms / 1000
        intended = CONNECTED.get(stretch.connected, "real")
        cuts = [start_s, *(t for t, _ in changes if start_s < t < end_s), end_s]
        for a, b in zip(cuts, cuts[1:], strict=False):
            if b > a:
                fed = next((name for t, name in reversed(changes) if t <= a), "real")
                connected = intended if fed == "stand_in" else "real"
                made.append(weighing.Stretch(a, b, connected, stretch.foot))
    return tuple(made)


def _pairs(rows: list) -> tuple[np.ndarray, np.ndarray]:
    """Start [s] and length [s] of (t_ms, length_ms) rows."""
    table = np.array(rows, float).reshape(-1, 2) / 1000
    return table[:, 0], table[:, 1]


def drive_evidence(
    drive: StoredDrive,
    result: dict[str, Any],
    tap: str,
    repaired: bool,
    vehicle: VehicleSheet | None,
) -> weighing.Drive:
    """One drive's facts as the verdict reads them; channels that were not wired are None."""
    seconds = result["exposure"]["recorded_s"]
    roles = {line.role for line in vehicle.lines} if vehicle else set()
    releases = [row for row in result["releases"] if not row["repeat"]]
    brake_t, brake_length = _pairs(result["brake"])
    offset_t, offset_length = _pairs(result["offset_events"])
    felt = [t for t, kind in result["marks"] if kind in ("button", "key")]
    injections = result["injections"]
    regain = [
        (row["regained_ms"] - row["t_ms"]) / 1000 if row["regained_ms"] is not None else np.nan
        for row in releases
    ]
    abilities = drive.settings.get("abilities", ("node", "ohmmeter"))
    return weighing.Drive(
        hours=seconds / 3600,
        exposed=tuple((a / 1000, b / 1000) for a, b in result["exposed"]),
        stretches=_stretches(drive.stretches, result["sources"], seconds),
        kind=KINDS.get(drive.kind, drive.kind),
        tap=drive.settings.get("tap", tap),
        repaired=repaired,
        node=_glitches(result["glitches"], "node"),
        under_mask=_glitches(result["glitches"], "ohmmeter") if "ohmmeter" in abilities else None,
        injected_t_s=_column(injections, "t_ms", 1e-3),
        injected_length_s=_column(injections, "length_ms", 1e-3),
        injected_ohm=_injected_ohm(injections),
        injected_cold=np.array([row["kind"] != "short" for row in injections], bool),
        release_t_s=_column(releases, "t_ms", 1e-3) if "commanded" in roles else None,
        release_regain_s=np.array(regain, float) if "commanded" in roles else None,
        release_cause=tuple(row["cause"] for row in releases) if "commanded" in roles else None,
        brake_t_s=brake_t if "brake" in roles else None,
        brake_length_s=brake_length if "brake" in roles else None,
        throttle_t_s=np.array(result["throttle"], float) / 1000 if _has_throttle(vehicle) else None,
        mark_t_s=np.array(felt, float) / 1000,
        offset_t_s=offset_t if "offset" in abilities else None,
        offset_length_s=offset_length if "offset" in abilities else None,
    )  # fmt: skip


def _has_throttle(vehicle: VehicleSheet | None) -> bool:
    return bool(vehicle and vehicle.throttle)


def _known(case: Case, vehicle: VehicleSheet | None, tap: str) -> weighing.Known:
    roles = {line.role for line in vehicle.lines} if vehicle else set()
    channels = ["button"]
    if tap != "none":
        channels += ["node", "ohmmeter_under_mask"]
    channels += ["brake"] if "brake" in roles else []
    channels += ["converter"] if "commanded" in roles else []
    channels += ["throttle"] if _has_throttle(vehicle) else []
    channels += ["return_offset"] if case.fields.get("return_offset_wired") else []
    complaint = case.fields.get("complaint", {})
    return weighing.Known(
        after_min=vehicle.exposure.after_min if vehicle else 0.0,
        channels=tuple(channels),
        complaint=complaint.get("words", ""),
        inhibit_matches=bool(case.fields.get("inhibit_matches", True)),
    )


def _account(case: Case) -> weighing.Account | None:
    told = case.fields.get("account")
    if not told:
        return None
    return weighing.Account(int(told["felt"]), float(told["exposed_h"]), int(told.get("spells", 1)))


REGAIN_S = 5.0
"""A kick-out told on the phone has no record; this stands for its end. [s]"""


def _follow_up_drives(store: Store, case_id: str) -> list[weighing.Drive]:
    """What the customer told of the time after the repair: hours that count, with what was felt.

    Nothing was wired, so a kick-out felt is taken as one, and lies anywhere within the hours.
    """
    made = []
    for finding in store.findings(case_id, "follow_up"):
        hours, felt = float(finding.body.get("hours", 0.0)), int(finding.body.get("kick_outs", 0))
        if not finding.body.get("counts", True) or hours <= 0:
            continue
        times = np.linspace(0, hours * 3600, felt + 2)[1:-1]
        made.append(
            weighing.Drive(
                hours=hours, exposed=((0.0, hours * 3600),), kind="quiet", repaired=True,
                stretches=(weighing.Stretch(0.0, hours * 3600, "real", "normal"),),
                release_t_s=times, release_regain_s=np.full(felt, REGAIN_S),
                release_cause=("none",) * felt,
            )
        )  # fmt: skip
    return made


def measured_answer(store: Store, case_id: str) -> tuple[float | None, tuple[float, float] | None]:
    """(shortest glitch answered, shortest and longest delay) as ``locum shortest`` found them. [s]

    Of both directions the shorter length and the wider delay; the newest of each counts.
    """
    newest = {f.body.get("towards"): f.body for f in store.findings(case_id, "shortest")}
    lengths = [body["shortest_answered_ms"] / 1000 for body in newest.values()]
    delays = [body["delay_ms"] for body in newest.values() if body.get("delay_ms")]
    if not lengths:
        return None, None
    span = (min(d[0] for d in delays) / 1000, max(d[1] for d in delays) / 1000) if delays else None
    return min(lengths), span


def case_evidence(store: Store, case_id: str) -> weighing.Evidence:
    """Everything the casebook knows of a case, as evidence."""
    case = store.case(case_id)
    sheet = store.sheet(case_id, "vehicle")
    vehicle = read_vehicle(sheet.text, sheet.name) if sheet else None
    tap = (case.fields.get("tap") or {}).get("end", "sensor")
    repairs = store.findings(case_id, "repair")
    repaired_utc = repairs[0].at_utc if repairs else None
    defects = [f.body.get("words", "") for f in store.findings(case_id, "found")]
    drives = []
    for drive in store.drives(case_id):
        reviews = store.reviews(drive.id)
        if not reviews or KINDS.get(drive.kind, drive.kind) not in ON_ROAD:
            continue
        after = bool(drive.settings.get("repaired")) or bool(
            repaired_utc and drive.started_utc > repaired_utc
        )
        drives.append(drive_evidence(drive, reviews[-1].result, tap, after, vehicle))
    if repairs:
        drives += _follow_up_drives(store, case_id)
    shortest_s, delay_s = measured_answer(store, case_id)
    return weighing.Evidence(
        known=_known(case, vehicle, tap), account=_account(case), drives=tuple(drives),
        defect_found="; ".join(words for words in defects if words),
        shortest_answered_s=shortest_s, module_delay_s=delay_s,
        confidence=load_settings().confidence,
    )  # fmt: skip
