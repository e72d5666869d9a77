"""Points of a sensor, read from a CSV a person made: temperatures with resistances or their limits.

Headers name quantity and unit: ``celsius,ohms``, ``t_c,r_ohm``, ``t_c,r_min_ohm,r_max_ohm``, ``t_f,r_kohm``, ``T [degF];R [kohm]``. Fields are
parted by comma, semicolon or tab; decimal commas are understood. Whatever was converted or guessed is told,
and all faults of a file are told at once, with their lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from locum.errors import FileTrouble, Refused, Remark
from locum.physics.curve_base import KELVIN
from locum.sheets.points_columns import Column, columns_of, to_celsius, to_ohm
from locum.sheets.points_numbers import number_of
from locum.sheets.points_text import (
    decoded,
    delimiter_of,
    fields_of,
    lines_of,
    without_empty_tail,
)

IMPOSSIBLE = "impossible"
GUESSES = {"no_header", "decimal_comma"}

MOST_ROWS = 2000
"""A sensor's table has a few hundred rows; a recording given by mistake has many more."""
LONGEST_LINE = 10_000
"""A row of a table has some tens of letters."""


@dataclass(frozen=True)
class PointsFile:
    """Rows as read, in degC and ohm."""

    name: str
    celsius: np.ndarray
    ohms: np.ndarray | None
    """Typical resistances, or None in a table of limits. [ohm]"""
    ohms_low: np.ndarray | None
    ohms_high: np.ndarray | None
    """Limits, both or neither. [ohm]"""
    labels: tuple[str, ...]
    """``line 7`` of each row, for remarks."""
    remarks: tuple[Remark, ...]
    """What was converted, guessed or left out."""

    @property
    def understood(self) -> tuple[str, ...]:
        """How the file was read, one sentence for each thing that was not plain."""
        return tuple(remark.text for remark in self.remarks)

    @property
    def warnings(self) -> tuple[Remark, ...]:
        """Of the remarks those that rest on a guess."""
        return tuple(remark for remark in self.remarks if remark.code in GUESSES)

    def fit_arguments(self) -> dict[str, Any]:
        """Keyword arguments for :func:`locum.physics.fit.fit_curve`."""
        return {
            "celsius": self.celsius,
            "ohms": self.ohms,
            "ohms_low": self.ohms_low,
            "ohms_high": self.ohms_high,
            "labels": self.labels,
        }


def open_points(path: Path | str) -> PointsFile:
    """Points of a CSV file as spreadsheets save it: UTF-8, UTF-16 or the Windows code page.

    Raises FileTrouble if the file cannot be read, Refused with all faults in it.
    """
    path = Path(path)
    try:
        raw = path.read_bytes()
    except OSError as trouble:
        raise FileTrouble(
            Remark("unreadable", str(path), "a readable file", trouble.strerror or str(trouble))
        ) from None
    return read_points(decoded(raw), path.name)


def read_points(text: str, name: str = "points") -> PointsFile:
    """Points of CSV text. Raises Refused with every fault and its line."""
    lines = lines_of(text)
    if not lines:
        raise Refused(Remark("no_points", name, "a header and rows of numbers", "nothing"))
    if len(lines) > MOST_ROWS:
        raise Refused(
            Remark(
                "too_many_rows",
                name,
                f"at most {MOST_ROWS} rows of a sensor's table",
                f"{len(lines)}",
                "a recording goes to learn, not to fit",
            )
        )
    if endless := [at for at, line in lines if len(line) > LONGEST_LINE]:
        found = f"{len(endless)} longer ones, the first at line {endless[0]}"
        wanted = f"lines of at most {LONGEST_LINE} letters"
        raise Refused(Remark("too_long", name, wanted, found, "is this the right file?"))
    delimiter = delimiter_of([line for _, line in lines])
    rows = [(at, fields_of(line, delimiter)) for at, line in lines]
    header = without_empty_tail(rows[0][1], 1)
    columns, remarks, has_header = columns_of(header, delimiter)
    body = rows[1:] if has_header else rows
    return _read(name, columns, body, len(header), delimiter, remarks)


def _read(
    name: str,
    columns: Sequence[Column],
    body: Sequence[tuple[int, list[str]]],
    width: int,
    delimiter: str,
    remarks: list[Remark],
) -> PointsFile:
    faults: list[Remark] = []
    commas: list[str] = []
    values: dict[str, list[float]] = {column.role: [] for column in columns}
    labels = []
    if not body:
        faults.append(Remark("no_points", name, "rows of numbers below the header", "none"))
    for at, fields in body:
        fields = _joined(without_empty_tail(fields, width), width, delimiter, commas)
        row = _row(at, fields, columns, width, delimiter, faults, commas)
        if row is not None:
            labels.append(f"line {at}")
            for role, value in row.items():
                values[role].append(value)
    # Impossible values alone are left to the fit, which can tell swapped columns and wrong units.
    if any(fault.code != IMPOSSIBLE for fault in faults):
        raise Refused(faults)
    if commas:
        remarks = [*remarks, _comma_remark(commas)]
    arrays = {role: np.array(column) for role, column in values.items()}
    return PointsFile(
        name,
        arrays["temperature"],
        arrays.get("ohms"),
        arrays.get("ohms_low"),
        arrays.get("ohms_high"),
        tuple(labels),
        tuple(remarks),
    )


def _row(
    at: int,
    fields: list[str],
    columns: Sequence[Column],
    width: int,
    delimiter: str,
    faults: list[Remark],
    commas: list[str],
) -> dict[str, float] | None:
    """One row's values by role; its faults go to ``faults``."""
    if len(fields) != width:
        found = f"{len(fields)}: {delimiter.join(fields)}"
        remedy = "part the columns with semicolons if the numbers have decimal commas"
        faults.append(Remark("wrong_width", f"line {at}", f"{width} fields", found, remedy))
        return None
    row = {}
    for column in columns:
        text = fields[column.place]
        value = number_of(text)
        if value is None:
            found = repr(text) if text else "an empty field"
            wanted = f"a number under {column.header}"
            faults.append(Remark("not_a_number", f"line {at}", wanted, found, "correct the field"))
            continue
        if "," in text:
            commas.append(text)
        converted = _converted(value, text, column)
        if (wanted := _impossible(converted, column)) is not None:
            faults.append(Remark(IMPOSSIBLE, f"line {at}", wanted, repr(text), "correct the field"))
        row[column.role] = converted
    return row if len(row) == len(columns) else None


def _impossible(value: float, column: Column) -> str | None:
    """What is wanted of a value that no sensor has; None if one may have it."""
    if column.role == "temperature":
        return None if value > -KELVIN else "a temperature above absolute zero"
    return None if value > 0 else "a resistance above zero"


def _converted(value: float, text: str, column: Column) -> float:
    if column.role == "temperature":
        return to_celsius(value, column.unit)
    # A field that carries its own k or M has said its unit already.
    return value if text.rstrip()[-1:] in "kKM" else to_ohm(value, column.unit)


def _joined(fields: list[str], width: int, delimiter: str, commas: list[str]) -> list[str]:
    """Rows written with decimal commas and comma delimiters have twice the fields: join them in pairs."""
    twice = delimiter == "," and len(fields) == 2 * width
    if not twice or not all(field.lstrip("+-\u2212").isdigit() for field in fields):
        return fields
    joined = [f"{whole},{part}" for whole, part in zip(fields[::2], fields[1::2], strict=True)]
    commas.extend(joined)
    return joined


def _comma_remark(commas: list[str]) -> Remark:
    example = commas[0]
    value = number_of(example)
    return Remark(
        "decimal_comma",
        "numbers",
        "decimal points",
        f"decimal commas: {example} is read as {value:g}",
        "nothing to do if that is right",
    )
