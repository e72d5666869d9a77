"""Files for people: safe names, CSV with its columns described, checksums.

A cell that a spreadsheet would take for a formula gets a ``'`` before it; import never reads these
cells back, it reads the JSON beside them.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any, TextIO

_RESERVED = frozenset(
    ["con", "prn", "aux", "nul"] + [f"{name}{n}" for name in ("com", "lpt") for n in range(1, 10)]
)
"""Names that some systems keep for devices, with any ending."""
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
LONGEST_NAME = 60


@dataclass(frozen=True)
class Column:
    """Head, unit and meaning of one column of a CSV."""

    name: str
    unit: str
    says: str


def safe_name(text: str, otherwise: str = "file") -> str:
    """``text`` as a file name on any system: ASCII letters, digits, ``-``, ``_`` and dots within.

    Never empty, hidden, reserved, longer than 60 characters or leading out of its folder.
    """
    plain = unicodedata.normalize("NFKD", text.replace("ß", "ss"))
    plain = plain.encode("ascii", "ignore").decode("ascii")
    plain = re.sub(r"[^A-Za-z0-9._-]+", "-", plain)
    plain = re.sub(r"\.{2,}", ".", plain).strip("-._ ")
    stem, dot, ending = plain.rpartition(".")
    if dot and len(ending) <= 8:
        plain = stem[: LONGEST_NAME - len(ending) - 1].rstrip("-._") + "." + ending
    plain = plain[:LONGEST_NAME].strip("-._")
    if not plain or plain.startswith("."):
        plain = otherwise
    if plain.split(".")[0].lower() in _RESERVED:
        plain = f"{otherwise}-{plain}"
    return plain


def free_in(taken: set[str], name: str) -> str:
    """``name``, or with a number if it is taken; also where a system sees no difference of case."""
    path = PurePosixPath(name)
    candidate, number = name, 2
    while candidate.lower() in taken:
        candidate = str(path.with_name(f"{path.stem}-{number}{path.suffix}"))
        number += 1
    taken.add(candidate.lower())
    return candidate


def safe_cell(value: Any, decimal_comma: bool = False) -> str:
    """A value as a CSV cell; text that a spreadsheet would calculate is made harmless."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        text = float.__repr__(value)  # numpy's own floats would print their type's name
        return text.replace(".", ",") if decimal_comma else text
    if isinstance(value, int):
        return str(value)
    text = str(value)
    return "'" + text if text.startswith(_FORMULA) else text


def csv_text(
    columns: Sequence[Column],
    rows: Iterable[Sequence[Any]],
    *,
    about: str = "",
    decimal_comma: bool = False,
) -> str:
    """A CSV file: what it is and what each column holds on lines that begin with ``#``, then a
    line of column names, then the rows.

    With ``decimal_comma`` numbers have one and cells are parted by ``;``, as spreadsheets of such
    countries expect. The text begins with a byte order mark, so that they read it as UTF-8.
    """
    out = io.StringIO()
    begin_csv(out, columns, about=about, decimal_comma=decimal_comma)
    add_rows(out, rows, decimal_comma=decimal_comma)
    return out.getvalue()


def begin_csv(
    out: TextIO, columns: Sequence[Column], *, about: str = "", decimal_comma: bool = False
) -> None:
    """The described head of a CSV file and its line of column names."""
    out.write("\ufeff")
    for line in [about, *(f"{c.name} [{c.unit or '-'}]: {c.says}" for c in columns)]:
        if line:
            out.write(f"# {line}\n")
    _writer(out, decimal_comma).writerow([column.name for column in columns])


def add_rows(out: TextIO, rows: Iterable[Sequence[Any]], *, decimal_comma: bool = False) -> None:
    """Rows below a head made by :func:`begin_csv`."""
    _writer(out, decimal_comma).writerows(
        [safe_cell(value, decimal_comma) for value in row] for row in rows
    )


def _writer(out: TextIO, decimal_comma: bool):
    return csv.writer(out, delimiter=";" if decimal_comma else ",", lineterminator="\n")


def checksum_lines(sums: dict[str, str]) -> str:
    """File name to SHA-256, in the form that ``sha256sum -c`` reads."""
    return "".join(f"{sha256}  {name}\n" for name, sha256 in sorted(sums.items()))


def read_checksums(text: str) -> dict[str, str]:
    """File name to SHA-256; lines of another form are passed over."""
    found = {}
    for line in text.splitlines():
        match = re.fullmatch(r"([0-9a-f]{64})  (.+)", line)
        if match:
            found[match[2]] = match[1]
    return found
