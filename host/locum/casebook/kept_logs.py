"""Other loggers' files kept with a drive, and how their time lies against ours.

The file is attached to the case byte for byte; how it is read, and its offset, are a finding of
kind ``foreign_log``. Of the same file the newest finding counts, so an offset can be corrected.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from locum.casebook.alignment import Offset
from locum.casebook.foreign import Channel, ForeignLog, as_aux, read_log
from locum.casebook.store import Store
from locum.errors import FileTrouble, Refused, Remark
from locum.review.chunk import AUX, AUX_SPEED, AUX_THROTTLE


def log_bytes(path: Path | str) -> bytes:
    """The file's bytes, or FileTrouble in plain words."""
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise FileTrouble(
            Remark("log_unreadable", str(path), "another logger's CSV file",
                   error.strerror or str(error), "check the path")
        ) from error  # fmt: skip


def attach_log(
    store: Store,
    case_id: str,
    drive_id: str,
    path: Path | str,
    offset: Offset,
    *,
    time: str | None = None,
    units: Mapping[str, str] | None = None,
    author: str = "",
    how: str = "",
    road_below_kmh: float | None = None,
) -> str:
    """Keep a foreign log with a drive, and how its time lies against ours; the finding's id.

    Parameters
    ----------
    how
        In words, how the offset was found.
    road_below_kmh
        Speed below which the module lets go by design: a release there is the road's. [km/h]
    """
    path = Path(path)
    if not offset.trusted:
        raise Refused([*offset.remarks] or [Remark("offset_unsure", str(path))])
    data = log_bytes(path)
    log = read_log(data, where=path.name, time=time, units=units)  # before anything is kept
    attachment = store.attach(
        case_id, path.name, data, drive_id=drive_id, author=author, media_type="text/csv"
    )
    return store.add_finding(
        case_id,
        "foreign_log",
        {
            "drive": drive_id,
            "attachment": attachment.id,
            "sha256": attachment.sha256,
            "name": path.name,
            "time": time,
            "units": dict(units or {}),
            "offset_s": offset.offset_s,
            "u_s": offset.u_s,
            "correlation": offset.correlation,
            "how": how,
            "road_below_kmh": road_below_kmh,
            "channels": {name: c.unit for name, c in log.channels.items()},
        },
        author,
    )


def log_entries(store: Store, drive_id: str) -> list[dict[str, Any]]:
    """What is known of each log of a drive; of the same file the newest entry."""
    case_id = store.drive(drive_id).case_id
    if case_id is None:
        return []
    newest = {
        found.body["sha256"]: found.body
        for found in store.findings(case_id, "foreign_log")
        if found.body.get("drive") == drive_id
    }
    return list(newest.values())


def logs_of_drive(store: Store, drive_id: str) -> list[tuple[ForeignLog, float]]:
    """Foreign logs of a drive with their offsets. [s]"""
    return [
        (
            read_log(
                store.content(body["sha256"]),
                where=body["name"],
                time=body["time"],
                units=body["units"],
            ),
            float(body["offset_s"]),
        )
        for body in log_entries(store, drive_id)
    ]


def speed_channel(log: ForeignLog) -> Channel | None:
    """The log's speed over ground; the first if there are several."""
    return next((c for c in log.channels.values() if c.quantity == "speed"), None)


def throttle_channel(log: ForeignLog) -> Channel | None:
    """The log's throttle or pedal. Other shares (load, fuel level) are not the driver's foot."""
    for channel in log.channels.values():
        named = re.search(r"throttle|pedal|accelerator", channel.name.lower())
        if named and channel.quantity in ("share", "voltage"):
            return channel
    return None


def slow_rows(logs: Iterable[tuple[ForeignLog, float]], wanted: tuple[int, ...]) -> np.ndarray:
    """Speed and throttle of logs as slow-channel rows; one log for each, the first that has it."""
    parts, found = [np.empty(0, AUX)], set()
    for log, offset_s in logs:
        for code, channel in ((AUX_SPEED, speed_channel(log)), (AUX_THROTTLE, throttle_channel(log))):  # fmt: skip
            if channel is not None and code in wanted and code not in found:
                found.add(code)
                parts.append(as_aux(channel, offset_s))
    return np.concatenate(parts)
