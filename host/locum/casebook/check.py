"""Whether a casebook is whole. Reads the file directly and leans on nothing else being whole."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from locum.casebook import rows
from locum.casebook.database import Database
from locum.casebook.migrate import refuse_newer, schema_of
from locum.casebook.records import CheckLine
from locum.errors import FileTrouble

MOST_NAMED = 50
"""Longer lists of lost things are cut; their number is told."""
_AT_ONCE = 256
"""Rows held in memory while looking through a file: blocks are some kB each."""
_TRIES = 20_000
"""Failing reads before a table is given up: a damaged page costs about its rows, twice."""


def check_file(path: Path | str) -> list[CheckLine]:
    """Look through a casebook without changing it; one line for each kind of fault."""
    db = Database(path, read_only=True)
    try:
        return check(db)
    finally:
        db.close()


def check(db: Database) -> list[CheckLine]:
    """The same on a casebook that is open."""
    refuse_newer(db, schema_of(db))
    lines = [_pages(db), _references(db)]
    lost = [named(table, row) for table in present(db) for row in _wrong_sums(db, table)]
    lines.append(_line("checksums of rows", lost, "every row agrees with its checksum"))
    lines.append(_line("recordings", list(_holes(db)), "every recording is without a hole"))
    return lines


def present(db: Database) -> list[rows.Table]:
    """Tables that this file has; one of an older schema has fewer."""
    try:
        names = {row["name"] for row in db.rows("SELECT name FROM sqlite_schema")}
    except FileTrouble:
        return []
    return [table for name, table in rows.TABLES.items() if name in names]


def _line(name: str, lost: list[str], good: str) -> CheckLine:
    if not lost:
        return CheckLine(name, True, good)
    return CheckLine(name, False, f"{len(lost)} not right", tuple(lost[:MOST_NAMED]))


def _pages(db: Database) -> CheckLine:
    try:
        found = [row[0] for row in db.rows("PRAGMA integrity_check(50)")]
    except FileTrouble as error:
        found = [error.remarks[0].found]
    return _line("pages of the file", [text for text in found if text != "ok"], "all can be read")


def _references(db: Database) -> CheckLine:
    try:
        found = db.rows("PRAGMA foreign_key_check")
    except FileTrouble as error:
        return CheckLine("references", False, error.remarks[0].found)
    lost = [f"{row['table']} row without its {row['parent']}" for row in found]
    return _line("references", lost, "nothing points nowhere")


def _wrong_sums(db: Database, table: rows.Table) -> Iterator[dict[str, Any]]:
    """Rows that cannot be read, or do not agree with their own checksum."""
    unreadable: list[dict[str, Any]] = []
    for row in readable_rows(db, table, unreadable):
        if not rows.sum_is_right(row, table):
            yield row
    yield from unreadable


def named(table: rows.Table, row: dict[str, Any]) -> str:
    key = "/".join(str(row[column]) for column in table.key if column in row)
    return f"{table.name} {key or 'row ' + str(row.get('rowid', '?'))}"


def _holes(db: Database) -> Iterator[str]:
    try:
        found = db.rows(
            "SELECT drive_id, count(*) AS n, max(seq) + 1 AS wanted FROM block GROUP BY drive_id"
        )
    except FileTrouble as error:
        yield error.remarks[0].found
        return
    for row in found:
        if row["n"] != row["wanted"]:
            yield f"drive {row['drive_id']}: {row['wanted'] - row['n']} of {row['wanted']} blocks"


# Reading what can be read ---------------------------------------------------------------------


def readable_rows(
    db: Database, table: rows.Table, lost: list[dict[str, Any]] | None = None
) -> Iterator[dict[str, Any]]:
    """Every row that can be read; what cannot is noted in ``lost``."""
    lost = [] if lost is None else lost
    if "WITHOUT ROWID" in _sql(db, table.name):
        yield from _from_both_ends(db, table, lost)
        return
    ranges, tries = [(0, _top_rowid(db, table.name))], 0
    while ranges:
        low, high = ranges.pop()
        middle = (low + high) // 2
        try:
            found = _span(db, table.name, low, high)
        except sqlite3.Error:
            tries += 1
            if low == high or tries > _TRIES:
                lost.append({"rowid": low if low == high else f"{low}-{high}"})
                continue
            found = None
        if found is None:
            ranges += [(middle + 1, high), (low, middle)]
        else:
            yield from found


def _span(db: Database, name: str, low: int, high: int) -> list[dict[str, Any]] | None:
    """The rows of a range; None if they are too many to be read at once."""
    with db.lock:
        if high - low >= _AT_ONCE:
            some = f"SELECT 1 FROM {name} WHERE rowid BETWEEN ? AND ? LIMIT 1"
            return None if db.connection.execute(some, (low, high)).fetchone() else []
        cursor = db.connection.execute(
            f"SELECT rowid AS rowid_, * FROM {name} WHERE rowid BETWEEN ? AND ? ORDER BY rowid",
            (low, high),
        )
        return [_without_rowid(dict(row)) for row in cursor.fetchall()]


def _without_rowid(row: dict[str, Any]) -> dict[str, Any]:
    row.pop("rowid_")
    return row


def _top_rowid(db: Database, name: str) -> int:
    try:
        row = db.row(f"SELECT max(rowid) FROM {name}")
        return int(row[0] or 0) if row else 0
    except FileTrouble:
        return 2**31


def _sql(db: Database, name: str) -> str:
    row = db.row("SELECT sql FROM sqlite_schema WHERE name = ?", (name,))
    return str(row["sql"]) if row else ""


def _from_both_ends(
    db: Database, table: rows.Table, lost: list[dict[str, Any]]
) -> Iterator[dict[str, Any]]:
    """Rows of a table that only its key leads through: from the front to a damaged page, then
    from the back to it."""
    seen = set()
    for way in ("ASC", "DESC"):
        order = ", ".join(f"{column} {way}" for column in table.key)
        try:
            with db.lock:
                for row in db.connection.execute(f"SELECT * FROM {table.name} ORDER BY {order}"):
                    key = tuple(row[column] for column in table.key)
                    if key not in seen:
                        seen.add(key)
                        yield dict(row)
            return
        except sqlite3.Error:
            continue
    lost.append({"rowid": "some"})
