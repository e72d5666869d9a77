"""The text of a points file: bytes to lines, lines to fields."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence


def lines_of(text: str) -> list[tuple[int, str]]:
    """Lines that say something, with their numbers."""
    return [
        (at, line)
        for at, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]


def delimiter_of(lines: Sequence[str]) -> str:
    """The one of semicolon, tab and comma that the header has, semicolon and tab first."""
    for delimiter in (";", "\t"):
        if delimiter in lines[0]:
            return delimiter
    return ","


def fields_of(line: str, delimiter: str) -> list[str]:
    """The fields of one line, spaces around them taken off."""
    reader = csv.reader(io.StringIO(line), delimiter=delimiter, skipinitialspace=True)
    return [field.strip() for field in next(reader, [])]


def without_empty_tail(fields: list[str], least: int) -> list[str]:
    """Fields without empty ones at the end, which spreadsheets leave; at least so many."""
    kept = len(fields)
    while kept > least and fields[kept - 1] == "":
        kept -= 1
    return fields[:kept]


def decoded(raw: bytes) -> str:
    """Text of a file as spreadsheets save it: UTF-8, UTF-16 with its mark, or the Windows code page."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")
