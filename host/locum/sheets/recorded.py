"""A recorded profile: a CSV of time and value, as a data logger or an export of ours wrote it.

Lines beginning with # are comments. A value that is missing (an empty cell, or ``open`` as our own
tables write an ohmmeter beyond its range) is bridged by a straight line between its neighbours, and
what was bridged is told. Everything else that is no number is a fault; all of them are told at once.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from locum.errors import Refused, Remark

CONTACTS = ("through", "open", "short")
TIME_COLUMNS = ("time_s", "t_s", "seconds", "run_time_s", "time")
VALUE_COLUMNS = {"celsius": "celsius", "t_c": "celsius", "temperature_c": "celsius",
                 "coolant_c": "celsius", "fahrenheit": "fahrenheit", "ohms": "ohm",
                 "ohm": "ohm", "r_ohm": "ohm", "ohm_mean_ohm": "ohm"}  # fmt: skip
MOST_FAULTS = 20
"""Rows told one by one; of a file of another kind every row is wrong."""


@dataclass(frozen=True)
class Recording:
    """Columns of a recorded profile, values in the file's own unit."""

    time_s: tuple[float, ...]
    value: tuple[float, ...]
    contact: tuple[str, ...]
    unit: str
    whole_degrees: bool
    """All values are whole numbers of degrees: the truth is somewhere within half a degree."""
    remarks: tuple[Remark, ...] = ()
    """What was done about missing values."""


@dataclass(frozen=True)
class _Columns:
    time: int
    value: int
    contact: int | None


@dataclass
class _Rows:
    """What the rows of a file said; ``value`` is NaN where there is none."""

    line: list[int] = field(default_factory=list)
    time_s: list[float] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    contact: list[str] = field(default_factory=list)
    faults: list[Remark] = field(default_factory=list)


def read_recording(
    text: str, name: str, time_column: str = "", value_column: str = ""
) -> Recording:
    """The recording in a CSV with a time column, a value column and perhaps ``contact``.

    Parameters
    ----------
    text, name : str
        The file's content and what to call it in remarks.
    time_column, value_column : str
        Headers to use; empty: the first of the usual ones.

    Raises
    ------
    Refused
        With every fault: columns that are missing, cells that are no numbers, times that do not
        rise, contacts that do not exist, fewer than two values.
    """
    table = _table(text, name)
    header = [cell.strip() for cell in table[0][1]] if table else []
    if len(table) < 3:
        found = f"{len(table)} lines that are no comments"
        raise Refused(Remark("too_short", name, "a header and two rows", found))
    columns = _columns(header, time_column, value_column, name)
    rows = _rows(name, table[1:], columns)
    if sum(not math.isnan(value) for value in rows.value) < 2 and not rows.faults:
        rows.faults.append(Remark("too_short", name, "two rows with a value or more",
                                  f"{len(rows.value)} rows without", "record it again"))  # fmt: skip
    if rows.faults:
        raise Refused(_told(rows.faults, name))
    unit = _unit_of(header[columns.value])
    told = [value for value in rows.value if not math.isnan(value)]
    whole = unit != "ohm" and len(set(told)) > 1 and all(value == round(value) for value in told)
    read = Recording(tuple(rows.time_s), tuple(rows.value), tuple(rows.contact), unit, whole)
    return _bridged(read, rows.line, name)


def _table(text: str, name: str) -> list[tuple[int, list[str]]]:
    """(line number, cells) of every line that says something."""
    lines = [(n, line) for n, line in enumerate(text.splitlines(), 1)
             if line.strip() and not line.startswith("#")]  # fmt: skip
    if not lines:
        return []
    first = lines[0][1]
    delimiter = max(";\t,", key=first.count)
    table, faults = [], []
    for number, line in lines:
        # Line by line: a quotation mark that is never closed must not swallow what follows.
        reader = csv.reader(io.StringIO(line), delimiter=delimiter, strict=True)
        try:
            table.append((number, next(reader, [])))
        except csv.Error as error:
            where = f"{name}, line {number}"
            faults.append(Remark("not_csv", where, "cells of a table", str(error)))
    if faults:
        raise Refused(_told(faults, name))
    return table


def _columns(header: list[str], time_column: str, value_column: str, name: str) -> _Columns:
    lowered = [cell.lower() for cell in header]
    found: dict[str, int] = {}
    faults = []
    for what, asked, usual in (
        ("time", time_column, TIME_COLUMNS),
        ("value", value_column, tuple(VALUE_COLUMNS)),
    ):
        wanted = (asked.strip().lower(),) if asked else usual
        at = next((lowered.index(choice) for choice in wanted if choice in lowered), None)
        if at is None:
            faults.append(Remark("no_column", f"{name}, header",
                                 f"a {what} column ({', '.join(wanted)})", ", ".join(header),
                                 f"name it with --{what}-column"))  # fmt: skip
        else:
            found[what] = at
    if faults:
        raise Refused(faults)
    contact = lowered.index("contact") if "contact" in lowered else None
    return _Columns(found["time"], found["value"], contact)


def _rows(name: str, table: Iterable[tuple[int, list[str]]], columns: _Columns) -> _Rows:
    rows = _Rows()
    for number, cells in table:
        where = f"{name}, line {number}"

        def cell(at: int | None, cells: list[str] = cells) -> str:
            return cells[at].strip() if at is not None and at < len(cells) else ""

        time, written = _number(cell(columns.time)), cell(columns.value)
        missing = written == "" or written.lower() == "open"
        value = math.nan if missing else _number(written)
        if time is None or value is None:
            found = f"'{cell(columns.time)}' and '{written}'"
            rows.faults.append(Remark("not_a_number", where, "a time and a value", found,
                                      "correct the row, or leave its value empty"))  # fmt: skip
            continue
        if rows.time_s and time <= rows.time_s[-1]:
            rows.faults.append(Remark("time_order", where, f"a time after {rows.time_s[-1]:g}",
                                      f"{time:g}", "sort the rows, one per instant"))  # fmt: skip
        contact = cell(columns.contact).lower()
        contact = contact or ("open" if written.lower() == "open" else "through")
        if contact not in CONTACTS:
            rows.faults.append(
                Remark("contact", where, f"one of {', '.join(CONTACTS)}", f"'{contact}'")
            )
        rows.line.append(number)
        rows.time_s.append(time)
        rows.value.append(value)
        rows.contact.append(contact)
    return rows


def _told(faults: list[Remark], name: str) -> list[Remark]:
    more = len(faults) - MOST_FAULTS
    if more <= 0:
        return faults
    rest = Remark("more_faults", name, "rows of time and value", f"{more} more rows like these",
                  "is this the right file, and are these its columns?")  # fmt: skip
    return [*faults[:MOST_FAULTS], rest]


def _bridged(recording: Recording, lines: list[int], name: str) -> Recording:
    """The recording without missing values: ends cut off, gaps bridged by straight lines."""
    time_s, value = np.array(recording.time_s), np.array(recording.value)
    there = np.flatnonzero(~np.isnan(value))
    if len(there) == len(value):
        return recording
    first, last = int(there[0]), int(there[-1])
    part = slice(first, last + 1)
    filled = np.interp(time_s[part], time_s[there], value[there])
    gaps = np.diff(time_s[there])
    longest = int(np.argmax(gaps))
    bridged, cut = int(np.isnan(value[part]).sum()), len(value) - (last + 1 - first)
    remarks = []
    if bridged:
        remarks.append(Remark(
            "values_missing", f"{name}, line {lines[there[longest]]}", "a value in every row",
            f"{bridged} rows without one, the longest gap {gaps[longest]:.3g} s from here",
            "straight lines bridge the gaps",
        ))  # fmt: skip
    if cut:
        remarks.append(Remark(
            "ends_missing", name, "a value in the first and the last row",
            f"{cut} rows without one at the ends", "the profile is what lies between",
        ))  # fmt: skip
    return replace(
        recording,
        time_s=recording.time_s[part],
        value=tuple(float(x) for x in filled),
        contact=recording.contact[part],
        remarks=tuple(remarks),
    )


def _unit_of(column: str) -> str:
    name = column.strip().lower()
    if name in VALUE_COLUMNS:
        return VALUE_COLUMNS[name]
    if name.endswith(("_f", "fahrenheit", "degf")):
        return "fahrenheit"
    return "ohm" if name.endswith(("ohm", "ohms")) else "celsius"


def _number(cell: str) -> float | None:
    try:
        value = float(cell.replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None
