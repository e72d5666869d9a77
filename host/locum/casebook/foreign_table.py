"""A foreign CSV as rows of cells: encoding, delimiter, head, units and decimal sign as found."""

from __future__ import annotations

import csv
import io
import re

import numpy as np

TIME_UNITS = {"s": 1.0, "sec": 1.0, "seconds": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}
UNITS: dict[str, tuple[str, str, float, float]] = {
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


def decoded(data: bytes | str) -> str:
    """Text of UTF-8 or UTF-16 with its mark, of UTF-8 without, else of Latin-1, which any bytes are."""
    if isinstance(data, str):
        return data.removeprefix("\ufeff")
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def table_of(text: str) -> tuple[str, list[str], list[list[str]]] | None:
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
    try:
        rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=best[1]))
    except csv.Error:  # a field without end, as of a file that is no table
        return None
    width = int(np.median([len(row) for row in rows]))
    first = next((n for n, row in enumerate(rows) if len(row) >= width), None)
    if first is None:
        return None
    return best[1], [cell.strip() for cell in rows[first]], rows[first + 1 :]


def unit_row(head: list[str], below: list[list[str]]) -> tuple[list[str], list[list[str]]]:
    """A row of units below the head, if the first row is one."""
    empty = [""] * len(head)
    if not below:
        return empty, below
    cells = [cell.strip(" []()").lower() for cell in below[0]]
    known = [cell in UNITS or cell in TIME_UNITS for cell in cells]
    if any(known) and not any(re.fullmatch(r"[-+]?\d.*", cell) for cell in cells):
        return (cells + empty)[: len(head)], below[1:]
    return empty, below


def name_and_unit(cell: str) -> tuple[str, str]:
    """``Speed (mph)`` -> ``Speed``, ``mph``; ``speed_kmh`` -> ``speed``, ``kmh``."""
    match = re.fullmatch(r"(.*?)\s*[\[(]\s*([^\])]*?)\s*[\])]\s*", cell)
    if match and match[1]:
        return match[1].strip(), match[2].strip().lower()
    stem, _, ending = cell.rpartition("_")
    if stem and (ending.lower() in UNITS or ending.lower() in TIME_UNITS):
        return stem, ending.lower()
    return cell.strip(), ""


def has_decimal_comma(body: list[list[str]]) -> bool:
    """Whether more cells look like ``1,5`` than like ``1.5``."""
    cells = [cell for row in body[:200] for cell in row]
    commas = sum(bool(re.fullmatch(r"\s*[-+]?\d+,\d+\s*", cell)) for cell in cells)
    points = sum(bool(re.fullmatch(r"\s*[-+]?\d+\.\d+\s*", cell)) for cell in cells)
    return commas > points


def number(cell: str, comma: bool) -> float:
    """The number in a cell, NaN if it holds none."""
    text = cell.strip().replace(",", ".") if comma else cell.strip()
    try:
        return float(text)
    except ValueError:
        return float("nan")
