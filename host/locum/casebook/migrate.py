"""Leads a casebook of any released schema to the present one, with a backup before."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

from locum.casebook.database import Database
from locum.casebook.schema import APPLICATION_ID, SCHEMA, STEPS
from locum.casebook.troubles import trouble
from locum.errors import FileTrouble, Remark


def statements(sql: str) -> Iterator[str]:
    """The single statements of a script, so that they can share one transaction."""
    waiting = ""
    for line in sql.splitlines(keepends=True):
        waiting += line
        if sqlite3.complete_statement(waiting):
            yield waiting.strip()
            waiting = ""
    if waiting.strip():
        raise ValueError(f"statement without an end: {waiting.strip()[:60]}")


def schema_of(db: Database) -> int:
    """The number of a database's schema; 0 in an empty one."""
    row = db.row("PRAGMA user_version")
    return int(row[0]) if row else 0


def migrate(db: Database, now: Callable[[], datetime], program: str) -> Path | None:
    """Bring ``db`` to the present schema; the path of the backup, if one was needed.

    Raises ``FileTrouble`` if the file is newer than this program (it is left untouched), is not a
    casebook, or cannot be backed up.
    """
    found = schema_of(db)
    refuse_newer(db, found)
    if found == SCHEMA:
        return None
    if db.read_only:
        raise FileTrouble(
            Remark(
                "casebook_older",
                str(db.path),
                f"a casebook of schema {SCHEMA}",
                f"schema {found}, opened for reading only",
                "open it once for writing; a backup is made before anything changes",
            )
        )
    backup = None
    if found and isinstance(db.path, Path):
        stamp = now().strftime("%Y%m%dT%H%M%SZ")
        backup = free_name(db.path.with_name(f"{db.path.stem}-schema{found}-{stamp}.sqlite"))
        copy_into(db, backup)
    with db.transaction() as connection:
        found = int(connection.execute("PRAGMA user_version").fetchone()[0])
        if found == 0:
            _refuse_foreign(connection, db.path)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        for number, (name, sql) in enumerate(STEPS[found:], start=found + 1):
            for statement in statements(sql):
                connection.execute(statement)
            connection.execute(
                "INSERT INTO migration VALUES (?, ?, ?, ?)",
                (number, name, now().isoformat(timespec="milliseconds"), program),
            )
        connection.execute(f"PRAGMA user_version = {SCHEMA}")
    return backup


def refuse_newer(db: Database, found: int) -> None:
    """FileTrouble for a schema that a newer version wrote."""
    if found > SCHEMA:
        raise FileTrouble(
            Remark(
                "casebook_newer",
                str(db.path),
                f"a casebook of schema {SCHEMA} or older",
                f"schema {found}, written by a newer locum",
                "use the newer program; the file was left untouched",
            )
        )


def _refuse_foreign(connection: sqlite3.Connection, path: Path | str) -> None:
    """A file without our number but with tables in it belongs to somebody else."""
    if connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]:
        raise FileTrouble(
            Remark(
                "not_a_casebook",
                str(path),
                "a casebook",
                "a database of another program",
                "choose another file with --casebook; it was left untouched",
            )
        )


def free_name(path: Path) -> Path:
    """``path``, or with a number if it is taken: a backup never replaces another."""
    number = 2
    candidate = path
    while candidate.exists():
        candidate = path.with_name(f"{path.stem}-{number}{path.suffix}")
        number += 1
    return candidate


def copy_into(db: Database, target: Path) -> None:
    """Write a whole, compact copy of the casebook to ``target``, which must not exist."""
    if target.exists():
        raise FileTrouble(
            Remark(
                "backup_exists",
                str(target),
                "a new file for the backup",
                "a file of that name",
                "choose another name; nothing was replaced",
            )
        )
    with db.lock:
        try:
            db.connection.execute("VACUUM INTO ?", (str(target),))
        except sqlite3.Error as error:
            target.unlink(missing_ok=True)
            raise trouble(error, target) from error
