"""How the command line tells things: lines of at most 80 columns, tables, dates, short ids."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

WIDTH = 80
ID_SHOWN = 8
"""Letters of an id that are shown, from its end, and that are enough to type."""


class Whole(str):
    """A line that is not to be broken: a path, or something to copy."""

    __slots__ = ()


def printable(text: str) -> str:
    """``text`` on one line without what a terminal would obey: notes and names come from anywhere."""
    return "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in text)


def folded(line: str) -> list[str]:
    """A line as lines that fit, those after the first set in a little."""
    whole, line = isinstance(line, Whole), printable(line)
    if len(line) <= WIDTH or whole:
        return [line]
    lead = line[: len(line) - len(line.lstrip())]
    return textwrap.wrap(
        line, WIDTH, initial_indent="", subsequent_indent=lead + "  ", drop_whitespace=True,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def short_id(ident: str | None) -> str:
    """The end of an id, which is enough to type: ``C837WNDR``."""
    return (ident or "")[-ID_SHOWN:]


def day(utc: str | None) -> str:
    """``2026-03-02`` of a stored time."""
    return (utc or "")[:10]


def moment(utc: str | None) -> str:
    """``2026-03-02 07:15`` of a stored time, which is UTC."""
    return (utc or "")[:16].replace("T", " ")


def count(number: int, one: str, several: str = "") -> str:
    """``1 drive``, ``2 drives``, ``no drives``."""
    return f"{number or 'no'} {one if number == 1 else several or one + 's'}"


def short(value: Any) -> str:
    """A value in few digits."""
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def degrees(celsius: float, digits: int = 2) -> str:
    """A temperature in the unit of the settings, with its sign."""
    from locum.settings import load_settings

    if load_settings().unit == "fahrenheit":
        return f"{1.8 * celsius + 32:.{digits}f} degF"
    return f"{celsius:.{digits}f} degC"


def minutes(seconds: float) -> str:
    """``7:05`` for minutes and seconds into a recording."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def table(head: Sequence[str], rows: Sequence[Sequence[Any]], indent: str = "") -> list[str]:
    """Columns side by side; numbers to the right; the last column takes what room there is."""
    cells = [[short(cell) if cell is not None else "" for cell in row] for row in rows]
    widths = [max(map(len, column)) for column in zip(head, *cells, strict=True)]
    right = [
        all(isinstance(row[n], int | float) or row[n] is None for row in rows) and bool(rows)
        for n in range(len(head))
    ]
    lines = []
    for row in [list(head), *cells]:
        line = "  ".join(
            cell.rjust(width) if to_right else cell.ljust(width)
            for cell, width, to_right in zip(row, widths, right, strict=True)
        ).rstrip()
        lines.append(indent + line)
    return [cut(line) for line in lines]


def cut(line: str) -> str:
    """A line of a table, shortened to fit: tables are looked at, not copied from."""
    return line if len(line) <= WIDTH else line[: WIDTH - 3].rstrip() + "..."


def listed(title: str, lines: Sequence[str]) -> list[str]:
    """A heading and its lines set in, nothing without lines."""
    return [title, *(f"  {line}" for line in lines)] if lines else []
