"""The profile sheet: what temperature to be, when. TOML segments, or a CSV recording.

A segment is one of the seven kinds below, each an inline table; values are in the sheet's unit::

    schema = 1
    unit = "celsius"                 # or "fahrenheit", "ohm"
    [[segment]]
    hold = {at = 82.0, minutes = 5.0, wander = 0.3}
    [[segment]]
    ramp = {to = 95.0, rate_per_s = 0.2}       # or minutes = 8.0; from = where it stands
    [[segment]]
    sweep = {from = 20.0, to = 95.0, minutes = 10.0, times = 2}
    [[segment]]
    warmup = {from = 10.0, to = 88.0, tau_s = 320.0, minutes = 12.0}
    [[segment]]
    steps = {at = [20.0, 21.0, 22.0], dwell_s = 30.0}
    [[segment]]
    glitches = {at = 88.0, towards = "cold", length_ms = 300, every_s = 20.0, count = 6}
    [[segment]]
    recorded = {file = "drive.csv", time = "run_time_s", value = "coolant_c"}
"""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from locum.errors import Refused, Remark
from locum.sheets.fields import SheetText, Table
from locum.sheets.lookup import read_text

UNITS = ("celsius", "fahrenheit", "ohm")
SEGMENTS = ("hold", "ramp", "sweep", "warmup", "steps", "glitches", "recorded")
CONTACTS = ("through", "open", "short")
TIME_COLUMNS = ("time_s", "t_s", "seconds", "run_time_s", "time")
VALUE_COLUMNS = {"celsius": "celsius", "t_c": "celsius", "temperature_c": "celsius",
                 "coolant_c": "celsius", "fahrenheit": "fahrenheit", "ohms": "ohm",
                 "ohm": "ohm", "r_ohm": "ohm"}  # fmt: skip


@dataclass(frozen=True)
class Recording:
    """Columns of a recorded profile as they stood in the file."""

    time_s: tuple[float, ...]
    value: tuple[float, ...]
    contact: tuple[str, ...]
    unit: str
    whole_degrees: bool
    """All values are whole numbers of degrees: the truth is somewhere within half a degree."""


@dataclass(frozen=True)
class Segment:
    kind: str
    values: dict[str, Any]
    where: str
    """Name and line, for remarks made later."""


@dataclass(frozen=True)
class ProfileSheet:
    name: str
    title: str
    unit: str
    segments: tuple[Segment, ...]
    on_silence: str = "return"
    fast: bool = False
    """The author asks for rates above 0.3 K/s."""
    text: str = field(default="", repr=False)


def _minutes(row: Table, default: float | None = None) -> float:
    return row.number("minutes", 0, 24 * 60, default=default) or 0.0


def _segment_values(kind: str, row: Table) -> dict[str, Any]:
    """Checked values of one segment; what a kind does not know is refused as unknown."""
    if kind == "hold":
        return {"at": row.number("at"), "minutes": _minutes(row),
                "wander": row.number("wander", 0, 20, required=False),
                "wander_period_s": row.number("wander_period_s", 5, 3600, default=60.0)}  # fmt: skip
    if kind == "ramp":
        values = {"from": row.number("from", required=False), "to": row.number("to")}
        values["minutes"] = row.number("minutes", 0, 24 * 60, required=False)
        values["rate_per_s"] = row.number("rate_per_s", 1e-6, 1e6, required=False)
        if (values["minutes"] is None) == (values["rate_per_s"] is None):
            found = "neither" if values["minutes"] is None else "both"
            row.remark("ramp_speed", "to", "minutes or rate_per_s", found, "give one of them")
        return values
    if kind == "sweep":
        return {"from": row.number("from"), "to": row.number("to"), "minutes": _minutes(row),
                "times": row.whole("times", 1, 1000, default=1)}  # fmt: skip
    if kind == "warmup":
        return {"from": row.number("from"), "to": row.number("to"),
                "tau_s": row.number("tau_s", 1, 1e5), "minutes": _minutes(row)}  # fmt: skip
    if kind == "steps":
        return {"at": row.numbers("at"), "dwell_s": row.number("dwell_s", 0.05, 86400)}
    return {"at": row.number("at", required=False),
            "towards": row.choice("towards", ("cold", "hot"), default="cold"),
            "by": row.number("by", 0.1, 400, required=False),
            "length_ms": row.whole("length_ms", 1, 60_000, required=True),
            "every_s": row.number("every_s", 0.05, 3600),
            "count": row.whole("count", 1, 10_000, required=True)}  # fmt: skip


def _recorded(row: Table, folder: Path | None) -> dict[str, Any]:
    file = row.text("file") or ""
    time, value = row.text("time", ""), row.text("value", "")
    path = (folder / file) if folder else Path(file)
    try:
        return {"recording": read_recording(read_text(path), path.name, time, value)}
    except Refused as refused:
        for remark in refused.remarks:
            row.remark(remark.code, "file", remark.wanted, f"{remark.where}: {remark.found}")
    return {"recording": None}


def _segment(row: Table, sheet: SheetText, n: int, folder: Path | None) -> Segment | None:
    kinds = [kind for kind in SEGMENTS if kind in row]
    row.know(*kinds)
    if len(kinds) != 1:
        found = " and ".join(kinds) or "none of them"
        row.remark("segment", "", f"one of {', '.join(SEGMENTS)}", found, "one kind per segment")
        return None
    kind = kinds[0]
    inner = row.table(kind)
    values = _recorded(inner, folder) if kind == "recorded" else _segment_values(kind, inner)
    return Segment(kind, values, sheet.where(("segment", n, kind)))


def read_profile(text: str, name: str = "profile", folder: Path | None = None) -> ProfileSheet:
    """The checked TOML profile; Refused with all faults and their lines."""
    sheet = SheetText.parse(text, name)
    top = sheet.table()
    title = top.text("title", default=name)
    top.know("note", "source")
    unit = top.choice("unit", UNITS) or "celsius"
    on_silence = top.choice("on_silence", ("return", "finish"), default="return")
    fast = top.flag("fast")
    rows = top.tables("segment", least=1)
    segments = [_segment(row, sheet, n, folder) for n, row in enumerate(rows)]
    sheet.finish()
    return ProfileSheet(name, title, unit, tuple(s for s in segments if s), on_silence, fast, text)


def read_profile_file(
    path: Path, text: str | None = None, time_column: str = "", value_column: str = ""
) -> ProfileSheet:
    """A profile from a file of either kind, by its ending."""
    text = read_text(path) if text is None else text
    if path.suffix.lower() != ".csv":
        return read_profile(text, path.name, path.parent)
    recording = read_recording(text, path.name, time_column, value_column)
    segment = Segment("recorded", {"recording": recording}, path.name)
    return ProfileSheet(path.stem, path.stem, recording.unit, (segment,), text=text)


def _column(header: list[str], asked: str, known, what: str, name: str) -> int:
    lowered = [h.strip().lower() for h in header]
    wanted = [asked.lower()] if asked else list(known)
    for choice in wanted:
        if choice in lowered:
            return lowered.index(choice)
    raise Refused(
        Remark(
            "no_column",
            f"{name}, header",
            f"a {what} column ({', '.join(wanted)})",
            ", ".join(header),
            f"name it with --{what}-column",
        )  # fmt: skip
    )


def _value_unit(column: str) -> str:
    name = column.strip().lower()
    if name in VALUE_COLUMNS:
        return VALUE_COLUMNS[name]
    if name.endswith(("_f", "fahrenheit", "degf")):
        return "fahrenheit"
    return "ohm" if name.endswith(("ohm", "ohms")) else "celsius"


def _number(cell: str) -> float | None:
    try:
        value = float(cell.strip().replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def read_recording(
    text: str, name: str, time_column: str = "", value_column: str = ""
) -> Recording:
    """A CSV of time and value, optionally contact; lines beginning with # are comments.

    Refused with every bad row named: not a number, time not increasing, unknown contact.
    """
    lines = [(n, line) for n, line in enumerate(text.splitlines(), 1)
             if line.strip() and not line.startswith("#")]  # fmt: skip
    if len(lines) < 3:
        raise Refused(Remark("too_short", name, "a header and two rows", f"{len(lines)} lines"))
    delimiter = ";" if lines[0][1].count(";") > lines[0][1].count(",") else ","
    rows = list(csv.reader(io.StringIO("\n".join(line for _, line in lines)), delimiter=delimiter))
    header = rows[0]
    t_at = _column(header, time_column, TIME_COLUMNS, "time", name)
    v_at = _column(header, value_column, VALUE_COLUMNS, "value", name)
    lowered = [h.strip().lower() for h in header]
    c_at = lowered.index("contact") if "contact" in lowered else None
    times, values, contacts, remarks = _rows(name, lines, rows, t_at, v_at, c_at)
    if remarks:
        raise Refused(remarks)
    unit = _value_unit(header[v_at])
    whole = unit != "ohm" and len(set(values)) > 1 and all(v == round(v) for v in values)
    return Recording(tuple(times), tuple(values), tuple(contacts), unit, whole)


def _rows(name, lines, rows, t_at, v_at, c_at):
    times: list[float] = []
    values: list[float] = []
    contacts: list[str] = []
    remarks: list[Remark] = []
    for (number, _), row in zip(lines[1:], rows[1:], strict=True):
        where = f"{name}, line {number}"
        cells = [row[i] if i < len(row) else "" for i in (t_at, v_at)]
        time, value = (_number(cell) for cell in cells)
        contact = row[c_at].strip().lower() if c_at is not None and c_at < len(row) else "through"
        if time is None or value is None:
            remarks.append(Remark("not_a_number", where, "two numbers", ", ".join(cells)))
            continue
        if times and time <= times[-1]:
            remarks.append(
                Remark(
                    "time_order",
                    where,
                    f"a time after {times[-1]:g}",
                    f"{time:g}",
                    "sort the rows, one per instant",
                )  # fmt: skip
            )
        if contact not in CONTACTS:
            remarks.append(Remark("contact", where, f"one of {', '.join(CONTACTS)}", contact))
        times.append(time)
        values.append(value)
        contacts.append(contact)
    return times, values, contacts, remarks
