"""Other loggers' plain CSV as extra channels, so that speed or throttle can explain a release.

The file is attached to the case byte for byte; how its columns were read, and how its time lies
against ours, is a finding of kind ``foreign_log`` that a later one can replace. Nothing is
resampled into the record.

A file is read as it is found: delimiter ``, ; tab``, decimal point or comma, the unit in the
header (``speed [km/h]``, ``Speed (mph)``, ``speed_kmh``) or in a row below it. A speed without a
unit is not guessed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np

from locum.casebook.foreign_table import (
    UNITS,
    decoded,
    has_decimal_comma,
    name_and_unit,
    number,
    table_of,
    unit_row,
)
from locum.casebook.foreign_times import rising, time_at, times
from locum.errors import FileTrouble, Misuse, Remark
from locum.review.chunk import AUX, AUX_SPEED, AUX_THROTTLE


@dataclass(frozen=True)
class Channel:
    """One column of a foreign log, in our units."""

    name: str
    """As in the file."""
    quantity: str
    """``speed temperature share voltage`` or ``speed of rotation``; empty if no unit was told."""
    unit: str
    t_s: np.ndarray
    """Time since the log's first row, rising. [s]"""
    values: np.ndarray


@dataclass(frozen=True)
class ForeignLog:
    """Another logger's file as channels, with what it takes to read it the same way again."""

    channels: dict[str, Channel]
    time_column: str
    start_utc: datetime | None
    """Time of day of the first row, where the file has one with a date."""
    rows: int
    left_out: int
    """Rows whose time could not be read or went backwards."""
    settings: dict[str, Any]
    """Delimiter, decimal sign, time column: what it takes to read the file the same way again."""
    remarks: tuple[Remark, ...] = field(default=())


def read_log(
    data: bytes | str,
    *,
    where: str = "",
    time: str | None = None,
    units: Mapping[str, str] | None = None,
) -> ForeignLog:
    """Read another logger's CSV.

    Parameters
    ----------
    data
        The file's bytes (UTF-8, UTF-16 with mark, else Latin-1) or text.
    where
        Its name, for messages.
    time
        Name of the time column, where it is not found by itself.
    units
        Column name to unit, where the file does not tell or tells wrong.

    Raises
    ------
    FileTrouble
        If no table, no time column or no numbers are in it; all faults at once.
    """
    table = table_of(decoded(data))
    if table is None:
        raise _unreadable(where, "rows of cells parted by comma, semicolon or tab", "no such rows")
    delimiter, head, below = table
    units_below, body = unit_row(head, below)
    at = time_at(head, time)
    if at is None:
        raise _unreadable(
            where,
            f"the time column '{time}'" if time else "a column of times",
            "columns " + ", ".join(f"'{name}'" for name in head[:12]),
        )
    names, units_told = _columns(head, units_below, units or {})
    comma = delimiter != "," and has_decimal_comma(body)
    seconds, start = times(_cells(body, at), units_told[at], comma)
    keep = rising(seconds)
    if keep.sum() < 2:
        raise _unreadable(where, "at least two rows with rising times", f"{int(keep.sum())}")
    channels: dict[str, Channel] = {}
    for column, name in enumerate(names):
        if column == at:
            continue
        cells = _cells(body, column)
        made = _channel(name, units_told[column], cells, seconds, keep, comma)
        if made is not None:
            channels[_free(channels, name)] = made
    if not channels:
        raise _unreadable(where, "columns of numbers beside the time", "none")
    return ForeignLog(
        channels=channels,
        time_column=names[at],
        start_utc=start,
        rows=len(body),
        left_out=int(len(body) - keep.sum()),
        settings={"delimiter": delimiter, "decimal_comma": comma, "time": names[at]},
        remarks=_missing_units(where, channels),
    )


def _columns(
    head: list[str], units_below: list[str], given: Mapping[str, str]
) -> tuple[list[str], list[str]]:
    """Name and unit of each column: the unit given, else that of the header, else of the row below."""
    names, units = [], []
    for cell, below in zip(head, units_below, strict=True):
        name, in_header = name_and_unit(cell)
        names.append(name)
        units.append(given.get(name, given.get(cell, "")).strip().lower() or in_header or below)
    return names, units


def _cells(body: list[list[str]], column: int) -> list[str]:
    """A column's cells; a row that ends before it has an empty one."""
    return [row[column] if column < len(row) else "" for row in body]


def _missing_units(where: str, channels: Mapping[str, Channel]) -> tuple[Remark, ...]:
    """What would explain releases if only its unit were known."""
    return tuple(
        Remark("unit_missing", f"{where}: {channel.name}", "a unit", "none", "give it, as in mph")
        for channel in channels.values()
        if not channel.quantity and _sounds_like_speed(channel.name)
    )


def as_aux(channel: Channel, offset_s: float = 0.0) -> np.ndarray:
    """A channel as slow-channel rows of the record, its time laid over ours.

    Speed becomes ``AUX_SPEED`` in 0.01 km/h. A share in per cent becomes ``AUX_THROTTLE`` with
    100 % as 5 V (0.1 mV): how far the pedal went, not the voltage of a wire. Times before the
    drive's start are left out.
    """
    scales = {"speed": (AUX_SPEED, 100.0), "share": (AUX_THROTTLE, 500.0)}
    if channel.quantity == "voltage":
        scales["voltage"] = (AUX_THROTTLE, 1e4)
    if channel.quantity not in scales:
        raise Misuse(
            Remark(
                "channel_not_usable",
                channel.name,
                "speed, or throttle in per cent or volts",
                channel.quantity or "a column without a unit",
                "give its unit",
            )
        )
    code, scale = scales[channel.quantity]
    good = np.isfinite(channel.values)
    t_ms = np.rint((channel.t_s[good] + offset_s) * 1000.0).astype("i8")
    out = np.zeros(len(t_ms), AUX)
    out["t_ms"], out["channel"] = t_ms, code
    out["value"] = np.rint(channel.values[good] * scale).astype("i4")
    return out[t_ms >= 0]


def _unreadable(where: str, wanted: str, found: str) -> FileTrouble:
    remedy = "name the time column and units, or export the log again as plain CSV"
    return FileTrouble(Remark("log_unreadable", where, wanted, found, remedy))


def _channel(
    name: str,
    unit: str,
    cells: list[str],
    seconds: np.ndarray,
    keep: np.ndarray,
    comma: bool,
) -> Channel | None:
    """One column in our units; None if it holds hardly any numbers."""
    values = np.array([number(cell, comma) for cell in cells])
    if np.isfinite(values[keep]).sum() < 2:
        return None
    quantity, ours, factor, offset = UNITS.get(unit, ("", unit, 1.0, 0.0))
    return Channel(name, quantity, ours, seconds[keep], values[keep] * factor + offset)


def _free(channels: dict[str, Channel], name: str) -> str:
    number, candidate = 2, name
    while candidate in channels:
        candidate, number = f"{name} {number}", number + 1
    return candidate


def _sounds_like_speed(name: str) -> bool:
    return bool(re.search(r"speed|throttle|pedal|velocity", name.lower()))
