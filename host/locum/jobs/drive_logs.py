"""``locum drive log``: another logger's file laid beside a recording, its time found by what both saw."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from locum.casebook.alignment import Offset, find_offset
from locum.casebook.foreign import Channel, ForeignLog, read_log
from locum.casebook.kept_logs import attach_log, log_bytes, speed_channel, throttle_channel
from locum.casebook.store import Store
from locum.errors import Misuse, Refused, Remark
from locum.jobs.case_rule import case_rule
from locum.jobs.cases import Document, author_of, open_casebook
from locum.jobs.drives import review_drive
from locum.jobs.review_kept import REVIEW_VERSION, stored_review
from locum.jobs.stored_record import chunks_of
from locum.review.chunk import AUX_THROTTLE
from locum.sheets.vehicle import VehicleSheet, read_vehicle

Series = tuple[np.ndarray, np.ndarray]
"""Times [s] and values."""
BY_HAND_U_S = 1.0
"""Standard uncertainty of an offset read off two clocks (estimate). [s]"""


def log(
    drive: str,
    file: str,
    offset: float | None = None,
    ours: str | None = None,
    theirs: str | None = None,
    time_column: str = "",
    units: list[str] | None = None,
    lets_go_below: float | None = None,
    author: str = "",
    casebook: str | None = None,
) -> Document:
    """Keep a log with a drive and review the drive again with its speed and throttle."""
    told = _units(units or [])
    with open_casebook(casebook) as store:
        drive_id = store.drive_id_from(drive)
        case_id = _case_of(store, drive_id)
        read = read_log(
            log_bytes(file), where=Path(file).name, time=time_column or None, units=told
        )
        _need_use(read, file)
        if offset is not None:
            found, how = Offset(offset, BY_HAND_U_S, 0.0, 0.0, True), "given by hand"
        else:
            found, how = _found_offset(store, drive_id, read, ours, theirs, file)
        before = _kick_outs(store, drive_id)
        attach_log(
            store, case_id, drive_id, file, found, time=time_column or None, units=told,
            author=author_of(author), how=how, road_below_kmh=lets_go_below,
        )  # fmt: skip
        result = stored_review(review_drive(store, drive_id), case_rule(store, case_id))
        store.add_review(drive_id, REVIEW_VERSION, result)
        warnings = _warnings(read, _lets_go(store, drive_id, lets_go_below))
        return Document(
            {"drive": drive_id, "case": case_id, "offset_s": found.offset_s, "u_s": found.u_s,
             "correlation": found.correlation, "how": how, "rows": read.rows,
             "left_out": read.left_out, "channels": {n: c.unit for n, c in read.channels.items()},
             "kick_outs_before": before, "kick_outs": _kick_outs(store, drive_id),
             "causes": _causes(result), "warnings": warnings}
        )  # fmt: skip


def _units(pairs: list[str]) -> dict[str, str]:
    faults = [
        Remark("unit", "--unit", "COLUMN=UNIT, such as Speed=mph", f"'{pair}'", "write it so")
        for pair in pairs
        if "=" not in pair
    ]
    if faults:
        raise Misuse(faults)
    return {name.strip(): unit.strip() for name, unit in (pair.split("=", 1) for pair in pairs)}


def _case_of(store: Store, drive_id: str) -> str:
    """The case of a drive: a log is kept with one."""
    case_id = store.drive(drive_id).case_id
    if case_id is None:
        raise Refused(
            Remark("drive_unfiled", drive_id, "a recording filed under a case", "an unfiled one",
                   "file it first: `locum case attach CASE DRIVE`")
        )  # fmt: skip
    return case_id


def _need_use(read: ForeignLog, file: str) -> None:
    if speed_channel(read) is None and throttle_channel(read) is None:
        found = ", ".join(f"{n} [{c.unit or 'no unit'}]" for n, c in read.channels.items())
        raise Refused([
            *read.remarks,
            Remark("log_without_use", file, "a speed in km/h, mph or m/s, or a throttle in % or V",
                   found, "give the unit, as in --unit Speed=mph"),
        ])  # fmt: skip


def _vehicle(store: Store, drive_id: str) -> VehicleSheet | None:
    sheet = next((s for s in store.drive(drive_id).sheets if s.role == "vehicle"), None)
    told = sheet and any(x.strip() and x[0] != "#" for x in sheet.text.splitlines())
    return read_vehicle(sheet.text, sheet.name) if sheet and told else None


def _lets_go(store: Store, drive_id: str, given: float | None) -> float | None:
    """The speed below which the module lets go: the one given, else the vehicle sheet's. [km/h]"""
    vehicle = _vehicle(store, drive_id)
    return given if given is not None or vehicle is None else vehicle.road_below_kmh


def _warnings(read: ForeignLog, lets_go_below: float | None) -> list[Remark]:
    warnings = list(read.remarks)
    if speed_channel(read) is not None and lets_go_below is None:
        warnings.append(
            Remark("speed_explains_nothing", "speed", "the speed below which the module lets go",
                   "none given: the speed is kept and shown but explains no release",
                   "give it from the service manual, as in --lets-go-below 45, or as road_below_kmh "
                   "in the vehicle sheet")
        )  # fmt: skip
    return warnings


# The offset -----------------------------------------------------------------------------------


def our_series(store: Store, drive_id: str) -> dict[str, Series]:
    """What of ours another logger may have seen too: throttle, and brake as 0 and 1."""
    found: dict[str, Series] = {}
    throttle, brake = _slow_and_brake(store, drive_id)
    if len(throttle):
        found["throttle"] = (throttle["t_ms"] / 1e3, throttle["value"] / 1e4)
    if len(brake):
        found["brake"] = _as_steps(brake)
    return found


def _slow_and_brake(store: Store, drive_id: str) -> tuple[np.ndarray, np.ndarray]:
    vehicle = _vehicle(store, drive_id)
    lines = vehicle.lines if vehicle else ()
    brake = next((x for x in lines if x.role == "brake"), None)
    throttle, edges = [], []
    for chunk in chunks_of(store, drive_id):
        throttle.append(chunk.aux[chunk.aux["channel"] == AUX_THROTTLE])
        if brake is not None:
            edges.append(chunk.edges[chunk.edges["line"] == brake.input])
    on = 1 if brake is None or brake.active == "high" else 0
    moves = np.concatenate(edges) if edges else np.empty(0, [("t_ms", "i8"), ("level", "u1")])
    rows = np.zeros(len(moves), [("t_ms", "i8"), ("on", "u1")])
    rows["t_ms"], rows["on"] = moves["t_ms"], moves["level"] == on
    return (np.concatenate(throttle) if throttle else np.empty(0)), rows


def _as_steps(rows: np.ndarray) -> Series:
    """Edges as a line that stands still between them."""
    t_s = np.repeat(rows["t_ms"] / 1e3, 2)
    t_s[::2] -= 1e-3
    values = np.repeat(rows["on"].astype(float), 2)
    values[::2] = np.concatenate(([1.0 - rows["on"][0]], rows["on"][:-1]))
    return t_s, values


def their_channel(read: ForeignLog, ours: str) -> Channel | None:
    """The column of theirs that follows the same thing."""
    if ours == "throttle":
        return throttle_channel(read)
    return next((c for n, c in read.channels.items() if "brake" in n.lower()), None)


def _found_offset(
    store: Store, drive_id: str, read: ForeignLog, ours: str | None, theirs: str | None, file: str
) -> tuple[Offset, str]:
    """The best trusted match of any pair that both have; refused with every reason otherwise."""
    series = our_series(store, drive_id)
    if theirs is not None and theirs not in read.channels:
        wanted = "one of " + ", ".join(read.channels)
        raise Misuse(Remark("no_such_column", "--theirs", wanted, f"'{theirs}'", "write it so"))
    names = [ours] if ours else list(series)
    pairs = [
        (name, read.channels[theirs] if theirs else their_channel(read, name))
        for name in names
        if name in series
    ]
    tried = [
        (find_offset(*series[name], channel.t_s, channel.values), name, channel.name)
        for name, channel in pairs
        if channel is not None
    ]
    good = [item for item in tried if item[0].trusted]
    if good:
        best, name, column = max(good, key=lambda item: item[0].correlation)
        return best, f"our {name} against their {column}, correlation {best.correlation:.2f}"
    remarks = [remark for item in tried for remark in item[0].remarks]
    have = "we have " + (", ".join(series) or "neither throttle nor brake") + "; they have " + ", ".join(read.channels)  # fmt: skip
    raise Refused([
        *remarks,
        Remark("offset_unknown", file, "a throttle or brake that both recorded", have,
               "give the offset by hand: --offset SECONDS, our time at the log's first row"),
    ])  # fmt: skip


# What came of it ------------------------------------------------------------------------------


def _kick_outs(store: Store, drive_id: str) -> int | None:
    reviews = store.reviews(drive_id)
    if not reviews:
        return None
    return sum(r["cause"] == "none" and not r["repeat"] for r in reviews[-1].result["releases"])


def _causes(result: dict) -> dict[str, int]:
    counts: dict[str, int] = {}
    for row in result["releases"]:
        if not row["repeat"]:
            counts[row["cause"]] = counts.get(row["cause"], 0) + 1
    return counts
