"""Rows as they stand in the tables: for export, import, merging, checking and rescue.

Everything but the open ends of ``OPEN_ENDS`` is written once, so a row that is already here must
equal the row that comes; if it does not, somebody changed a file by hand.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from locum.casebook import jsontext
from locum.casebook.database import Database
from locum.errors import Refused, Remark


@dataclass(frozen=True)
class Table:
    """One table of the schema as an export writes it."""

    name: str
    key: tuple[str, ...]
    bodies: tuple[str, ...] = ()
    """Columns that hold JSON text."""
    of: str = ""
    """``case`` or ``drive``: whose rows they are."""
    summed: str = ""
    """``crc`` over the bodies joined, ``crc`` over ``data``, or ``sha256`` over ``data``."""


TABLES: dict[str, Table] = {
    table.name: table
    for table in (
        Table("content", ("sha256",), (), "", "sha256"),
        Table("cases", ("id",), ("fields",), "case", "crc"),
        Table("case_change", ("id",), ("fields",), "case", "crc"),
        Table("case_sheet", ("id",), (), "case"),
        Table("drive", ("id",), ("board", "settings"), "case", "crc"),
        Table("drive_sheet", ("drive_id", "role", "name", "sha256"), (), "drive"),
        Table("block", ("drive_id", "seq"), (), "drive", "crc"),
        Table("clock", ("drive_id", "seq"), (), "drive"),
        Table("stretch", ("drive_id", "number"), ("plan",), "drive"),
        Table("mark", ("id",), (), "drive"),
        Table("answer", ("id",), (), "drive"),
        Table("gap", ("id",), (), "drive"),
        Table("review", ("id",), ("result",), "drive", "crc"),
        Table("finding", ("id",), ("body",), "case", "crc"),
        Table("attachment", ("id",), (), "case"),
        Table("identity", ("case_id", "field"), (), "case"),
        Table("calibration", ("id",), ("body",), "", "crc"),
    )
}
"""All tables that hold something that cannot be made again, parents before children."""

OPEN_ENDS = {"drive": ("case_id", "ended_utc", "how"), "stretch": ("end_ms",)}
"""Columns that may be empty first and filled once."""


def columns(db: Database, table: str) -> list[str]:
    """Names of a table's columns."""
    return [row["name"] for row in db.rows(f"PRAGMA table_info({table})")]


def case_column(table: Table) -> str:
    """The column that says which case a row belongs to."""
    return "id" if table.name == "cases" else "case_id"


def rows_of_case(db: Database, name: str, case_id: str) -> list[dict[str, Any]]:
    """Rows of a table that belong to a case, in the order of their key."""
    table = TABLES[name]
    order = ", ".join(table.key)
    rows = db.rows(
        f"SELECT * FROM {name} WHERE {case_column(table)} = ? ORDER BY {order}", (case_id,)
    )
    return [dict(row) for row in rows]


def rows_of_drive(db: Database, name: str, drive_id: str) -> list[dict[str, Any]]:
    """Rows of a table that belong to a drive, in the order of their key."""
    order = ", ".join(TABLES[name].key)
    rows = db.rows(f"SELECT * FROM {name} WHERE drive_id = ? ORDER BY {order}", (drive_id,))
    return [dict(row) for row in rows]


def blocks_of(db: Database, drive_id: str) -> Iterator[dict[str, Any]]:
    """Rows of ``block`` of a drive in their order, a few hundred in memory at a time."""
    after = -1
    while some := db.rows(
        "SELECT * FROM block WHERE drive_id = ? AND seq > ? ORDER BY seq LIMIT 256",
        (drive_id, after),
    ):
        yield from map(dict, some)
        after = some[-1]["seq"]


def checked(rows: Iterable[dict[str, Any]], table: Table) -> Iterator[dict[str, Any]]:
    """The rows, as long as each agrees with its own checksum; ``ValueError`` otherwise."""
    for row in rows:
        if not sum_is_right(row, table):
            raise ValueError(f"a row of {table.name} that does not agree with its checksum")
        yield row


def opened(row: dict[str, Any], table: Table) -> dict[str, Any]:
    """The row with its JSON text read, for a file that people open."""
    return {
        key: jsontext.read(value) if key in table.bodies and value is not None else value
        for key, value in row.items()
    }


def closed(row: dict[str, Any], table: Table) -> dict[str, Any]:
    """The row as the table holds it; the opposite of ``opened``, byte for byte."""
    return {
        key: jsontext.written(value) if key in table.bodies and value is not None else value
        for key, value in row.items()
    }


def sum_is_right(row: dict[str, Any], table: Table) -> bool:
    """Whether a row's own checksum agrees with what it holds."""
    if table.summed == "sha256":
        import hashlib

        return hashlib.sha256(bytes(row["data"])).hexdigest() == row["sha256"]
    if table.summed == "crc":
        held = (
            b"".join(str(row[name]).encode("utf-8") for name in table.bodies)
            if table.bodies
            else bytes(row["data"])
        )
        return jsontext.crc(held) == row["crc"]
    return True


def put_rows(
    connection: sqlite3.Connection, name: str, rows: Iterable[dict[str, Any]], known: Sequence[str]
) -> int:
    """Add rows that are not here yet; how many were new.

    Raises
    ------
    Refused
        If a row is here with other content.
    """
    table = TABLES[name]
    new = 0
    for row in rows:
        names = [column for column in row if column in known]
        places = ", ".join("?" * len(names))
        added = connection.execute(
            f"INSERT INTO {name} ({', '.join(names)}) VALUES ({places}) "
            f"ON CONFLICT ({', '.join(table.key)}) DO NOTHING",
            [row[column] for column in names],
        ).rowcount
        new += added
        if not added:
            _agree(connection, table, row, names)
    return new


def _agree(
    connection: sqlite3.Connection, table: Table, row: dict[str, Any], names: list[str]
) -> None:
    """Check a row against the one that is here, and fill open ends from it."""
    where = " AND ".join(f"{column} = ?" for column in table.key)
    key = [row[column] for column in table.key]
    here = connection.execute(f"SELECT * FROM {table.name} WHERE {where}", key).fetchone()
    ends = OPEN_ENDS.get(table.name, ())
    for column in names:
        if here[column] == row[column] or row[column] is None and column in ends:
            continue
        if column in ends and here[column] is None:
            connection.execute(
                f"UPDATE {table.name} SET {column} = ? WHERE {where}", [row[column], *key]
            )
            continue
        raise Refused(
            Remark(
                "same_id_other_content",
                f"{table.name} {'/'.join(map(str, key))}",
                "the same content as in this casebook",
                f"another '{column}'",
                "one of the two was changed outside the program; nothing was imported",
            )
        )


def drives_of(db: Database, case_id: str) -> list[str]:
    return [
        row["id"]
        for row in db.rows("SELECT id FROM drive WHERE case_id = ? ORDER BY id", (case_id,))
    ]


def content_used(rows: dict[str, list[dict[str, Any]]]) -> Iterator[str]:
    """SHA-256 of every content that these rows refer to, each once."""
    seen = dict.fromkeys(
        row["sha256"]
        for name in ("case_sheet", "drive_sheet", "attachment")
        for row in rows.get(name, ())
    )
    yield from seen
