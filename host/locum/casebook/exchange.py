"""Import of an exported case."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from locum.casebook import rows
from locum.casebook.export import FORMAT
from locum.casebook.plainfiles import read_checksums
from locum.casebook.schema import SCHEMA
from locum.casebook.store import Store
from locum.errors import FileTrouble, LocumError, Refused, Remark

LARGEST_EXPORT = 4 * 2**30
"""Unpacked; a zip that claims more is not read into memory."""
Read = Callable[[str], bytes]


@dataclass(frozen=True)
class Arrived:
    """What an import or merge brought."""

    cases: tuple[str, ...]
    """Ids of the cases that came, new or added to."""
    new_rows: int
    """Rows that were not here before; 0 means that everything was known already."""
    unfiled: int = 0
    """Drives without a case that came along."""


def import_case(store: Store, path: Path | str) -> Arrived:
    """Read an exported folder or zip into a casebook, exactly; nothing happens if it is not whole.

    The case keeps its ids, so importing twice, or a later export of the same case, only adds what
    is new. An identity that was erased here stays erased.

    Raises
    ------
    FileTrouble
        If files are missing or do not agree with their checksums; all are named.
    Refused
        If a newer program wrote it, or a row is here with other content.
    """
    read, names = _opened(Path(path))
    _compare_checksums(read, names, path)
    try:
        outer = json.loads(read("case.json"))
        _refuse_newer(outer, path)
        loaded = _rows_from_files(outer, read, names)
        identity = json.loads(read("identity.json"))["identity"] if "identity.json" in names else {}
        case_id = str(outer["case"]["id"])
    except LocumError:  # ours are ValueErrors too, and already say what is the matter
        raise
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise FileTrouble(
            Remark(
                "export_unreadable",
                str(path),
                "an exported case",
                f"{type(error).__name__} {error} in its JSON",
                "export it again; nothing was imported",
            )
        ) from error
    new = put_case(store, case_id, loaded, identity)
    return Arrived((case_id,), new)


def _opened(path: Path) -> tuple[Read, set[str]]:
    """A way to read files by name, and the names, of a folder or a zip; nothing is unpacked."""
    try:
        if path.is_dir():
            names = {p.relative_to(path).as_posix() for p in path.rglob("*") if p.is_file()}
            return (lambda name: (path / name).read_bytes()), names
        archive = zipfile.ZipFile(path)
    except (OSError, zipfile.BadZipFile) as error:
        raise FileTrouble(
            Remark(
                "export_unreadable",
                str(path),
                "an exported case, a folder or a zip",
                getattr(error, "strerror", None) or str(error),
                "check the path",
            )
        ) from error
    entries = [entry for entry in archive.infolist() if not entry.is_dir()]
    if sum(entry.file_size for entry in entries) > LARGEST_EXPORT:
        raise Refused(
            Remark(
                "export_too_large",
                str(path),
                f"at most {LARGEST_EXPORT // 2**30} GB unpacked",
                "more",
                "unpack it by hand and import the folder",
            )
        )
    tops = {PurePosixPath(entry.filename).parts[0] for entry in entries}
    inside = len(tops) == 1 and not any(entry.filename == "case.json" for entry in entries)
    top = tops.pop() + "/" if inside else ""
    return (lambda name: archive.read(top + name)), {e.filename[len(top) :] for e in entries}


def _compare_checksums(read: Read, names: set[str], path: Path | str) -> None:
    """Every file that the export lists must be there and unchanged; all faults at once."""
    if "checksums.txt" not in names or "case.json" not in names:
        raise FileTrouble(
            Remark(
                "not_an_export",
                str(path),
                "an exported case with case.json and checksums.txt",
                "none",
                "choose the folder or zip that 'locum case export' made",
            )
        )
    faults = []
    for name, wanted in read_checksums(read("checksums.txt").decode("utf-8", "replace")).items():
        if name not in names:
            faults.append(Remark("export_file_missing", f"{path}: {name}", "the file", "nothing"))
        elif _sha256(read, name) != wanted:
            faults.append(
                Remark("export_file_changed", f"{path}: {name}", "it as exported", "it changed")
            )
    if faults:
        raise FileTrouble(
            [
                *faults,
                Remark("export_damaged", str(path), "", "nothing was imported", "copy it anew"),
            ]
        )


def _sha256(read: Read, name: str) -> str:
    try:
        return hashlib.sha256(read(name)).hexdigest()
    except (OSError, zipfile.BadZipFile):
        return ""


def _refuse_newer(outer: dict[str, Any], path: Path | str) -> None:
    if int(outer["format"]) > FORMAT or int(outer["schema"]) > SCHEMA:
        raise Refused(
            Remark(
                "export_newer",
                str(path),
                f"an export of format {FORMAT} and schema {SCHEMA} or older",
                f"format {outer['format']}, schema {outer['schema']}",
                "import it with the newer program; nothing was imported",
            )
        )


Rows = dict[str, list[dict[str, Any]]]


def _rows_from_files(outer: dict[str, Any], read: Read, names: set[str]) -> Rows:
    """All rows of an export, table by table."""
    loaded: Rows = {name: [] for name in rows.TABLES}
    for sha256, name in outer["contents"].items():
        data = read(name)
        loaded["content"].append({"sha256": sha256, "size": len(data), "data": data})
    for name, some in outer["tables"].items():
        if name in rows.TABLES:
            loaded[name] += [rows.closed(row, rows.TABLES[name]) for row in some]
    for name in sorted(names):
        parts = PurePosixPath(name).parts
        if len(parts) == 3 and parts[0] == "drives" and parts[2] == "drive.json":
            _load_drive(loaded, read, "/".join(parts[:2]))
    for name, some in loaded.items():
        for row in some:
            if not rows.sum_is_right(row, rows.TABLES[name]):
                raise ValueError(f"a row of {name} that does not agree with its checksum")
    return loaded


def _load_drive(loaded: Rows, read: Read, folder: str) -> None:
    inner = json.loads(read(f"{folder}/drive.json"))
    drive = rows.closed(inner["drive"], rows.TABLES["drive"])
    loaded["drive"].append(drive)
    for name, some in inner["tables"].items():
        if name in rows.TABLES:
            loaded[name] += [rows.closed(row, rows.TABLES[name]) for row in some]
    record = read(f"{folder}/record.bin")
    for seq, offset, size, crc in _numbers(read(f"{folder}/record-index.csv")):
        data = record[int(offset) : int(offset) + int(size)]
        block = {"drive_id": drive["id"], "seq": int(seq), "data": data, "crc": int(crc)}
        loaded["block"].append(block)
    for seq, (board_ms, utc_ms, trip) in enumerate(_numbers(read(f"{folder}/clock.csv"))):
        loaded["clock"].append(
            {
                "drive_id": drive["id"],
                "seq": seq,
                "board_ms": int(board_ms),
                "utc_ms": int(utc_ms),
                "round_trip_ms": float(trip),
            }
        )


def _numbers(data: bytes) -> list[list[str]]:
    """Rows of a CSV of ours below its described head."""
    lines = [line for line in data.decode("utf-8-sig").splitlines() if not line.startswith("#")]
    return list(csv.reader(io.StringIO("\n".join(lines))))[1:]


def put_case(store: Store, case_id: str, loaded: Rows, identity: dict[str, str]) -> int:
    """Add the rows of one case in one transaction; how many were new."""
    new = 0
    with store.db.transaction() as connection:
        here = connection.execute("SELECT 1 FROM cases WHERE id = ?", (case_id,)).fetchone()
        for name in rows.TABLES:
            if name != "identity":
                new += rows.put_rows(connection, name, loaded[name], rows.columns(store.db, name))
        erased = connection.execute(
            "SELECT 1 FROM finding WHERE case_id = ? AND kind = 'erased'", (case_id,)
        ).fetchone()
        if identity and not here and not erased:
            connection.executemany(
                "INSERT OR IGNORE INTO identity VALUES (?, ?, ?)",
                [(case_id, str(field), str(value)) for field, value in identity.items()],
            )
        store.words_changed(case_id)
    return new
