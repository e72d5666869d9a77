"""Every error of SQLite as a plain sentence: what was found, and what to do."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from locum.errors import FileTrouble, Remark

BUSY_MS = 5000
"""How long to wait for another program's transaction; ours last a few milliseconds."""

_REMEDIES = {
    "SQLITE_FULL": (
        "casebook_disk_full",
        "no space left on the disk",
        "free some space; everything written before is safe, and a running recording is kept in "
        "memory and written as soon as there is room",
    ),
    "SQLITE_READONLY": (
        "casebook_read_only",
        "a file or folder that may only be read",
        "allow writing there, or choose another place with --casebook",
    ),
    "SQLITE_BUSY": (
        "casebook_busy",
        f"another program writing to it for more than {BUSY_MS // 1000} s",
        "close the other program; nothing was changed",
    ),
    "SQLITE_CORRUPT": (
        "casebook_damaged",
        "damaged pages in the file",
        "run 'locum case check', which names what is lost and can save the rest into a new "
        "file; the damaged file is left as it is",
    ),
    "SQLITE_NOTADB": (
        "not_a_casebook",
        "a file that is not a casebook, or one whose beginning is damaged",
        "choose another file with --casebook, or take the newest backup beside it",
    ),
    "SQLITE_CANTOPEN": (
        "casebook_cannot_open",
        "a file or folder that cannot be opened",
        "check that the folder exists and may be written to",
    ),
    "SQLITE_IOERR": (
        "casebook_disk_failed",
        "the disk refusing to read or write",
        "check free space, quota, cable and disk; what was committed before is safe",
    ),
}


def trouble(error: sqlite3.Error, path: Path | str) -> FileTrouble:
    """What a person should read when SQLite gave ``error`` on ``path``."""
    name = getattr(error, "sqlite_errorname", None) or ""
    for stem, (code, found, remedy) in _REMEDIES.items():
        if name == stem or name.startswith(stem + "_"):
            return FileTrouble(Remark(code, str(path), "to use the casebook", found, remedy))
    return FileTrouble(
        Remark(
            "casebook_failed",
            str(path),
            "to use the casebook",
            f"'{error}'",
            "run 'locum case check'",
        )
    )


def named(name: str) -> sqlite3.Error:
    error = sqlite3.DatabaseError(name)
    error.sqlite_errorname = name
    return error
