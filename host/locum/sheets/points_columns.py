"""What the columns of a points file are, from their headers: quantity, unit, limit or typical value."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from locum.errors import Refused, Remark
from locum.sheets.points_numbers import number_of

KELVIN = 273.15


@dataclass(frozen=True)
class Column:
    """One column that is used."""

    role: str
    """``temperature``, ``ohms``, ``ohms_low`` or ``ohms_high``."""
    unit: str
    """``C``, ``F`` or ``K``; ``ohm``, ``kohm`` or ``Mohm``."""
    place: int
    header: str


TEMPERATURE_UNITS = {
    "F": {"f", "°f", "degf", "fahrenheit"},
    "K": {"kelvin", "degk"},
    "C": {"c", "°c", "degc", "celsius", "centigrade"},
}
TEMPERATURE_WORDS = {"t", "temp", "temperature", "tc", "tf"}
RESISTANCE_UNITS = {
    "kohm": {"kohm", "kohms", "kiloohm", "kiloohms", "kilohm", "kilohms", "kω"},
    "Mohm": {"megohm", "megohms", "megaohm", "megaohms"},
    "ohm": {"ohm", "ohms", "ω"},
}
RESISTANCE_WORDS = {"r", "rt", "res", "resistance", "rtyp", "rnom", "rmin", "rmax"}
LOW_WORDS = {"min", "minimum", "low", "lower", "rmin"}
HIGH_WORDS = {"max", "maximum", "high", "upper", "rmax"}


def columns_of(header: Sequence[str], delimiter: str) -> tuple[list[Column], list[Remark], bool]:
    """The columns to use, what to tell about them, and whether there was a header at all.

    Raises Refused if the header names no temperature or no resistance, or one of them twice.
    """
    if header and all(number_of(field) is not None for field in header):
        return _without_header(header, delimiter)
    columns: list[Column] = []
    ignored = []
    for place, field in enumerate(header):
        column = _column(field, place)
        if column is None:
            ignored.append(field or f"column {place + 1}")
        else:
            columns.append(column)
    faults = _faults(columns, header)
    if faults:
        raise Refused(faults)
    return columns, [*_unit_remarks(columns), *_ignored_remarks(ignored)], True


def to_celsius(value: float, unit: str) -> float:
    """A temperature in degC from degC, degF or kelvin."""
    if unit == "F":
        return (value - 32.0) / 1.8
    return value - KELVIN if unit == "K" else value


def to_ohm(value: float, unit: str) -> float:
    """A resistance in ohm from ohm, kohm or Mohm."""
    return value * {"ohm": 1.0, "kohm": 1e3, "Mohm": 1e6}[unit]


def _without_header(row: Sequence[str], delimiter: str) -> tuple[list[Column], list[Remark], bool]:
    if len(row) not in (2, 3):
        raise Refused(
            Remark(
                "no_header",
                "line 1",
                "a header such as celsius,ohms",
                f"{len(row)} numbers: {delimiter.join(row)}",
                "name the columns in the first line",
            )
        )
    roles = ["ohms"] if len(row) == 2 else ["ohms_low", "ohms_high"]
    columns = [Column("temperature", "C", 0, "column 1")]
    columns += [Column(role, "ohm", at, f"column {at + 1}") for at, role in enumerate(roles, 1)]
    meant = "celsius,ohms" if len(row) == 2 else "t_c,r_min_ohm,r_max_ohm"
    remark = Remark(
        "no_header", "line 1", "a header", f"none; {meant} is taken", "name the columns"
    )
    return columns, [remark], False


def _column(field: str, place: int) -> Column | None:
    mega = re.search(r"M(?:ohm|Ω|\u2126)", field) is not None
    words = set(re.split(r"[^a-z0-9°ω]+", field.lower().replace("\u2126", "ω"))) - {""}
    unit = "Mohm" if mega else _unit(words, RESISTANCE_UNITS)
    if unit or words & RESISTANCE_WORDS:
        role = "ohms"
        if words & LOW_WORDS:
            role = "ohms_low"
        elif words & HIGH_WORDS:
            role = "ohms_high"
        return Column(role, unit or "ohm", place, field)
    unit = _unit(words, TEMPERATURE_UNITS)
    if unit or words & TEMPERATURE_WORDS:
        # A lone k beside a temperature word is kelvin.
        kelvin = "k" in words and words & TEMPERATURE_WORDS
        return Column("temperature", "K" if kelvin else (unit or _tail(words)), place, field)
    return None


def _unit(words: set[str], units: dict[str, set[str]]) -> str:
    return next((unit for unit, names in units.items() if words & names), "")


def _tail(words: set[str]) -> str:
    return "F" if "tf" in words else "C"


def _faults(columns: Sequence[Column], header: Sequence[str]) -> list[Remark]:
    roles = [column.role for column in columns]
    named = ", ".join(field for field in header if field)
    remedy = "name the columns as in celsius,ohms or t_c,r_min_ohm,r_max_ohm"
    faults = []
    if "temperature" not in roles:
        faults.append(Remark("no_temperature", "header", "a temperature column", named, remedy))
    limits = ("ohms_low" in roles) + ("ohms_high" in roles)
    if limits == 1:
        faults.append(Remark("one_limit", "header", "both limits or neither", named, remedy))
    elif "ohms" not in roles and not limits:
        faults.append(Remark("no_resistance", "header", "a resistance column", named, remedy))
    for role in sorted({role for role in roles if roles.count(role) > 1}):
        twice = ", ".join(column.header for column in columns if column.role == role)
        faults.append(Remark("named_twice", "header", f"one column for {role}", twice, remedy))
    return faults


def _unit_remarks(columns: Sequence[Column]) -> list[Remark]:
    shown = {"F": "68 degF as 20 degC", "K": "293.15 K as 20 degC"}
    shown |= {"kohm": "1.5 kohm as 1500 ohm", "Mohm": "0.1 Mohm as 100000 ohm"}
    return [
        Remark(
            "converted",
            f"column {column.header}",
            "degC and ohm",
            f"{shown[column.unit]}",
            "nothing to do if the header is right",
        )
        for column in columns
        if column.unit in shown
    ]


def _ignored_remarks(ignored: Sequence[str]) -> list[Remark]:
    if not ignored:
        return []
    return [
        Remark(
            "ignored_columns",
            "header",
            "temperature and resistance columns",
            f"also {', '.join(ignored)}, left out",
        )
    ]
