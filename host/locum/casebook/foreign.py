"""Other loggers' plain CSV as extra channels, so that speed or throttle can explain a release.

The file is attached to the case byte for byte; how its columns were read, and how its time lies
against ours, is a finding of kind ``foreign_log`` that a later one can replace. Nothing is
resampled into the record.

A file is read as it is found: delimiter ``, ; tab``, decimal point or comma, the unit in the
header (``speed [km/h]``, ``Speed (mph)``, ``speed_kmh``) or in a row below it. A speed without a
unit is not guessed.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import numpy as np

from locum.errors import FileTrouble, Misuse, Remark
from locum.review.chunk import AUX, AUX_SPEED, AUX_THROTTLE

_TIME_NAMES = ("time", "timestamp", "date", "datetime", "t", "elapsed", "seconds", "zeit", "temps")
_TIME_UNITS = {"s": 1.0, "sec": 1.0, "seconds": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}
_UNITS: dict[str, tuple[str, str, float, float]] = {
    "km/h": ("speed", "km/h", 1.0, 0.0),
    "kmh": ("speed", "km/h", 1.0, 0.0),
    "kph": ("speed", "km/h", 1.0, 0.0),
    "mph": ("speed", "km/h", 1.609344, 0.0),
    "m/s": ("speed", "km/h", 3.6, 0.0),
    "°c": ("temperature", "degC", 1.0, 0.0),
    "c": ("temperature", "degC", 1.0, 0.0),
    "degc": ("temperature", "degC", 1.0, 0.0),
    "°f": ("temperature", "degC", 5.0 / 9.0, -160.0 / 9.0),
    "f": ("temperature", "degC", 5.0 / 9.0, -160.0 / 9.0),
    "degf": ("temperature", "degC", 5.0 / 9.0, -160.0 / 9.0),
    "%": ("share", "%", 1.0, 0.0),
    "percent": ("share", "%", 1.0, 0.0),
    "rpm": ("speed of rotation", "1/min", 1.0, 0.0),
    "1/min": ("speed of rotation", "1/min", 1.0, 0.0),
    "v": ("voltage", "V", 1.0, 0.0),
    "mv": ("voltage", "V", 1e-3, 0.0),
}
"""Unit as written, in small letters: quantity, our unit, factor, offset. 1 mile = 1.609344 km and
degF = 1.8 degC + 32 by definition."""


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
    text = _decoded(data)
    table = _table(text)
    if table is None:
        raise _unreadable(where, "rows of cells parted by comma, semicolon or tab", "no such rows")
    delimiter, head, below = table
    unit_row, body = _unit_row(head, below)
    at = _time_at(head, body, time)
    if at is None:
        raise _unreadable(
            where,
            f"the time column '{time}'" if time else "a column of times",
            "columns " + ", ".join(f"'{name}'" for name in head[:12]),
        )
    comma = delimiter != "," and _has_decimal_comma(body)
    names, told = zip(*(_name_and_unit(cell) for cell in head), strict=True)
    told = [
        units.get(name, units.get(head[i], "")) if units else "" for i, name in enumerate(names)
    ]
    marked = [_name_and_unit(cell)[1] for cell in head]
    chosen = [a or b or c for a, b, c in zip(told, marked, unit_row, strict=True)]
    seconds, start = _times([row[at] if at < len(row) else "" for row in body], chosen[at], comma)
    keep = _rising(seconds)
    if keep.sum() < 2:
        raise _unreadable(where, "at least two rows with rising times", f"{int(keep.sum())}")
    channels, remarks = {}, []
    for column, name in enumerate(names):
        if column == at:
            continue
        made = _channel(name, chosen[column], column, body, seconds, keep, comma)
        if made is None:
            continue
        channels[_free(channels, name)] = made
        if not made.quantity and _sounds_like_speed(name):
            remarks.append(
                Remark("unit_missing", f"{where}: {name}", "a unit", "none", "give it, as in mph")
            )
    if not channels:
        raise _unreadable(where, "columns of numbers beside the time", "none")
    return ForeignLog(
        channels,
        names[at],
        start,
        len(body),
        int(len(body) - keep.sum()),
        {"delimiter": delimiter, "decimal_comma": comma, "time": names[at]},
        tuple(remarks),
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


# Reading --------------------------------------------------------------------------------------


def _unreadable(where: str, wanted: str, found: str) -> FileTrouble:
    remedy = "name the time column and units, or export the log again as plain CSV"
    return FileTrouble(Remark("log_unreadable", where, wanted, found, remedy))


def _decoded(data: bytes | str) -> str:
    if isinstance(data, str):
        return data.removeprefix("\ufeff")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _table(text: str) -> tuple[str, list[str], list[list[str]]] | None:
    """Delimiter, head and rows; lines above the head (titles, ``#``) are passed over."""
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    best: tuple[int, str] = (0, "")
    for delimiter in ("\t", ";", ","):
        counts = [line.count(delimiter) for line in lines[:200]]
        if (
            counts
            and (usual := int(np.median(counts)))
            and sum(c == usual for c in counts) > best[0]
        ):
            best = (sum(c == usual for c in counts), delimiter)
    if not best[1] or len(lines) < 3:
        return None
    rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=best[1]))
    width = int(np.median([len(row) for row in rows]))
    first = next((n for n, row in enumerate(rows) if len(row) >= width), None)
    if first is None:
        return None
    return best[1], [cell.strip() for cell in rows[first]], rows[first + 1 :]


def _unit_row(head: list[str], below: list[list[str]]) -> tuple[list[str], list[list[str]]]:
    """A row of units below the head, if the first row is one."""
    empty = [""] * len(head)
    if not below:
        return empty, below
    cells = [cell.strip(" []()").lower() for cell in below[0]]
    known = [cell in _UNITS or cell in _TIME_UNITS for cell in cells]
    if any(known) and not any(re.fullmatch(r"[-+]?\d.*", cell) for cell in cells):
        return (cells + empty)[: len(head)], below[1:]
    return empty, below


def _name_and_unit(cell: str) -> tuple[str, str]:
    """``Speed (mph)`` -> ``Speed``, ``mph``; ``speed_kmh`` -> ``speed``, ``kmh``."""
    match = re.fullmatch(r"(.*?)\s*[\[(]\s*([^\])]*?)\s*[\])]\s*", cell)
    if match and match[1]:
        return match[1].strip(), match[2].strip().lower()
    stem, _, ending = cell.rpartition("_")
    if stem and (ending.lower() in _UNITS or ending.lower() in _TIME_UNITS):
        return stem, ending.lower()
    return cell.strip(), ""


def _time_at(head: list[str], body: list[list[str]], wanted: str | None) -> int | None:
    names = [_name_and_unit(cell)[0].lower() for cell in head]
    if wanted is not None:
        low = wanted.lower()
        return names.index(low) if low in names else None
    for candidate in _TIME_NAMES:
        for at, name in enumerate(names):
            if name == candidate or candidate in re.split(r"[^a-z]+", name):
                return at
    return None


def _has_decimal_comma(body: list[list[str]]) -> bool:
    cells = [cell for row in body[:200] for cell in row]
    commas = sum(bool(re.fullmatch(r"\s*[-+]?\d+,\d+\s*", cell)) for cell in cells)
    points = sum(bool(re.fullmatch(r"\s*[-+]?\d+\.\d+\s*", cell)) for cell in cells)
    return commas > points


def _number(cell: str, comma: bool) -> float:
    text = cell.strip().replace(",", ".") if comma else cell.strip()
    try:
        return float(text)
    except ValueError:
        return float("nan")


def _times(cells: Sequence[str], unit: str, comma: bool) -> tuple[np.ndarray, datetime | None]:
    """Seconds since the first readable row, and its time of day if the file tells a date."""
    numbers = np.array([_number(cell, comma) for cell in cells])
    if np.isfinite(numbers).mean() > 0.5:
        scale = _TIME_UNITS.get(unit, 1.0)
        first = numbers[np.isfinite(numbers)][0]
        if not unit and first > 1e11:  # milliseconds since 1970; seconds would be the year 5000
            scale = 1e-3
        seconds = numbers * scale
        begin = seconds[np.isfinite(seconds)][0]
        start = datetime.fromtimestamp(begin, UTC) if begin > 1e9 else None
        return seconds - begin, start
    moments = [_moment(cell) for cell in cells]
    seconds = np.array([float("nan") if m is None else m.timestamp() for m in moments])
    known = seconds[np.isfinite(seconds)]
    if not len(known):
        return seconds, None
    first_moment = next(m for m in moments if m is not None)
    return seconds - known[0], first_moment if first_moment.year > 1970 else None


def _moment(cell: str) -> datetime | None:
    """An ISO time, or a time of day alone (then on the first day of 1970)."""
    text = cell.strip().replace("Z", "+00:00").replace(",", ".")
    if re.fullmatch(r"\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?", text):
        parts = [float(part) for part in text.split(":")] + [0.0]
        total = parts[0] * 3600 + parts[1] * 60 + parts[2]
        return datetime.fromtimestamp(total, UTC)
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment


def _rising(seconds: np.ndarray) -> np.ndarray:
    """Rows whose time is readable and later than all before."""
    filled = np.where(np.isfinite(seconds), seconds, -np.inf)
    highest = np.concatenate(([-np.inf], np.maximum.accumulate(filled)[:-1]))
    return np.isfinite(seconds) & (filled > highest)


def _channel(
    name: str,
    unit: str,
    column: int,
    body: list[list[str]],
    seconds: np.ndarray,
    keep: np.ndarray,
    comma: bool,
) -> Channel | None:
    """One column in our units; None if it holds hardly any numbers."""
    cells = [row[column] if column < len(row) else "" for row in body]
    values = np.array([_number(cell, comma) for cell in cells])
    if np.isfinite(values[keep]).sum() < 2:
        return None
    quantity, ours, factor, offset = _UNITS.get(unit, ("", unit, 1.0, 0.0))
    return Channel(name, quantity, ours, seconds[keep], values[keep] * factor + offset)


def _free(channels: dict[str, Channel], name: str) -> str:
    number, candidate = 2, name
    while candidate in channels:
        candidate, number = f"{name} {number}", number + 1
    return candidate


def _sounds_like_speed(name: str) -> bool:
    return bool(re.search(r"speed|throttle|pedal|velocity", name.lower()))
