"""The casebook's file: opening, transactions, and every SQLite error as a plain sentence.

WAL keeps what was committed through a killed process whatever ``synchronous`` says; against a
power cut, ``FULL`` waits for the disk. Samples are committed every half second with NORMAL and
every ten seconds with FULL; opening and closing of cases and drives and calibrations always with
FULL. So a kill costs at most what was not yet committed, a power cut at most ten seconds.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from locum.casebook.schema import APPLICATION_ID
from locum.casebook.troubles import BUSY_MS, named, trouble
from locum.errors import FileTrouble, Remark


class Database:
    """One connection, usable from several threads, one transaction at a time."""

    def __init__(self, path: Path | str, read_only: bool = False) -> None:
        self.path = path if path == ":memory:" else Path(path)
        self.read_only = read_only
        self.lock = threading.RLock()
        self._synchronous = ""
        self.journal = "wal"
        """How SQLite keeps transactions whole here; not ``wal`` where the file system cannot."""
        try:
            self.connection = self._connected()
        except sqlite3.Error as error:
            raise trouble(error, self.path) from error
        except FileTrouble:
            raise
        except OSError as error:
            raise FileTrouble(
                Remark(
                    "casebook_cannot_open",
                    str(path),
                    "a folder for the casebook",
                    error.strerror or str(error),
                    "choose another place with --casebook",
                )
            ) from error

    def _connected(self) -> sqlite3.Connection:
        if isinstance(self.path, Path):
            _look_at_head(self.path)
            if not self.read_only:
                self.path.parent.mkdir(parents=True, exist_ok=True)
            elif not self.path.exists():
                raise FileTrouble(
                    Remark(
                        "no_casebook",
                        str(self.path),
                        "a casebook",
                        "no file",
                        "check the path; 'locum case new' begins one",
                    )
                )
        if self.read_only and isinstance(self.path, Path):
            return _opened_for_reading(self.path)
        connection = _opened(str(self.path))
        try:
            self.journal = _switch_to_wal(connection)
            connection.execute("PRAGMA foreign_keys = ON")
        except BaseException:
            connection.close()
            raise
        return connection

    @contextmanager
    def transaction(self, full: bool = True) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it is stored, or none. ``full`` waits for the disk."""
        with self.lock:
            if self.read_only:
                raise FileTrouble(
                    Remark(
                        "casebook_read_only",
                        str(self.path),
                        "to write to the casebook",
                        "it was opened for reading only",
                        "open it for writing",
                    )
                )
            nested = self.connection.in_transaction
            try:
                if not nested:
                    self._set_synchronous("FULL" if full else "NORMAL")
                    self.connection.execute("BEGIN IMMEDIATE")
                yield self.connection
                if not nested:
                    self.connection.execute("COMMIT")
            except BaseException as error:
                if not nested and self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
                if isinstance(error, sqlite3.Error):
                    raise trouble(error, self.path) from error
                raise

    def _set_synchronous(self, word: str) -> None:
        if word != self._synchronous:
            self.connection.execute(f"PRAGMA synchronous = {word}")
            self._synchronous = word

    def rows(self, sql: str, values: Sequence[Any] | dict[str, Any] = ()) -> list[sqlite3.Row]:
        """All rows of a question."""
        with self.lock:
            try:
                return self.connection.execute(sql, values).fetchall()
            except sqlite3.Error as error:
                raise trouble(error, self.path) from error

    def row(self, sql: str, values: Sequence[Any] | dict[str, Any] = ()) -> sqlite3.Row | None:
        """The first row, if any."""
        rows = self.rows(sql, values)
        return rows[0] if rows else None

    def close(self) -> None:
        """Close the connection."""
        with self.lock:
            self.connection.close()


def _opened(path: str, uri: bool = False) -> sqlite3.Connection:
    connection = sqlite3.connect(
        path, isolation_level=None, timeout=BUSY_MS / 1000, check_same_thread=False, uri=uri
    )
    connection.row_factory = sqlite3.Row
    return connection


def _opened_for_reading(path: Path) -> sqlite3.Connection:
    """Open without writing. In a folder that may not be written to, WAL's shared memory cannot be
    made; then the file is read as it stands, which is whole if no log with content lies beside it.
    """
    address = path.absolute().as_uri()
    connection = _opened(f"{address}?mode=ro", uri=True)
    try:
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        return connection
    except sqlite3.OperationalError:
        connection.close()
    log = path.with_name(path.name + "-wal")
    if log.exists() and log.stat().st_size:
        raise FileTrouble(
            Remark(
                "casebook_log_pending",
                str(path),
                "to read the casebook in a folder that may not be written to",
                f"{log.name} beside it, which holds its newest entries",
                "copy both files together into a folder that may be written to",
            )
        )
    return _opened(f"{address}?mode=ro&immutable=1", uri=True)


def _switch_to_wal(connection: sqlite3.Connection) -> str:
    """Ask for WAL; what SQLite took instead where it could not. Two programs that make the same file at once would both be told "busy" here,
    and SQLite does not wait by itself for this one thing."""
    until = time.monotonic() + BUSY_MS / 1000
    while True:
        try:
            return str(connection.execute("PRAGMA journal_mode = WAL").fetchone()[0])
        except sqlite3.OperationalError as error:
            if error.sqlite_errorname != "SQLITE_BUSY" or time.monotonic() > until:
                raise
            time.sleep(0.02)


def _look_at_head(path: Path) -> None:
    """Refuse what is plainly no casebook, before SQLite touches it."""
    if path.is_dir():
        raise FileTrouble(
            Remark("not_a_casebook", str(path), "a casebook file", "a folder", "name a file in it")
        )
    if path.exists() and not path.is_file():
        raise FileTrouble(
            Remark("not_a_casebook", str(path), "a casebook file", "a device", "name a file")
        )
    if not path.exists() or path.stat().st_size == 0:
        return
    with path.open("rb") as file:
        head = file.read(100)
    if head[:16] != b"SQLite format 3\0":
        raise trouble(named("SQLITE_NOTADB"), path)
    owner = int.from_bytes(head[68:72], "big")
    if owner not in (0, APPLICATION_ID):
        raise FileTrouble(
            Remark(
                "not_a_casebook",
                str(path),
                "a casebook",
                "a database of another program",
                "choose another file with --casebook; it was left untouched",
            )
        )
