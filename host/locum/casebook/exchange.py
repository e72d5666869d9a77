"""Import of an exported case."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path, PurePosixPath
from typing import Any
from zipfile import BadZipFile

from locum.casebook import rows
from locum.casebook.export import FORMAT
from locum.casebook.plainfiles import read_checksums
from locum.casebook.schema import SCHEMA
from locum.casebook.store import Store
from locum.casebook.unpacked import Unpacked, opened
from locum.errors import FileTrouble, LocumError, Refused, Remark

Rows = dict[str, Iterable[dict[str, Any]]]
"""Rows table by table; blocks and contents are read only when they are asked for."""


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
    files = opened(Path(path))
    _compare_checksums(files, path)
    try:
        outer = json.loads(files.read("case.json"))
        _refuse_newer(outer, path)
        loaded = _rows_from_files(outer, files)
        told = json.loads(files.read("identity.json")) if "identity.json" in files.names else {}
        case_id = str(outer["case"]["id"])
        new = put_case(store, case_id, loaded, told.get("identity", {}))
    except LocumError:  # ours are ValueErrors too, and already say what is the matter
        raise
    except (
        KeyError,
        TypeError,
        ValueError,
        AttributeError,
        OSError,
        csv.Error,
        BadZipFile,
    ) as error:
        raise FileTrouble(
            Remark(
                "export_unreadable",
                str(path),
                "an exported case",
                f"{type(error).__name__} {error} in its JSON",
                "export it again; nothing was imported",
            )
        ) from error
    return Arrived((case_id,), new)


def _compare_checksums(files: Unpacked, path: Path | str) -> None:
    """Every file that the export lists must be there and unchanged; all faults at once."""
    if not {"checksums.txt", "case.json"} <= files.names:
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
    listed = read_checksums(files.read("checksums.txt").decode("utf-8", "replace"))
    for name, wanted in listed.items():
        if name not in files.names:
            faults.append(Remark("export_file_missing", f"{path}: {name}", "the file", "nothing"))
        elif files.sha256(name) != wanted:
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


def _rows_from_files(outer: dict[str, Any], files: Unpacked) -> Rows:
    """All rows of an export, table by table, each held against its own checksum."""
    small: dict[str, list[dict[str, Any]]] = {name: [] for name in rows.TABLES}
    for name, some in outer["tables"].items():
        if name in rows.TABLES:
            small[name] += [rows.closed(row, rows.TABLES[name]) for row in some]
    folders = []
    for name in sorted(files.names):
        parts = PurePosixPath(name).parts
        if len(parts) == 3 and parts[0] == "drives" and parts[2] == "drive.json":
            folders.append((_load_drive(small, files, "/".join(parts[:2])), "/".join(parts[:2])))
    loaded: Rows = {
        name: list(rows.checked(some, rows.TABLES[name])) for name, some in small.items()
    }
    loaded["content"] = rows.checked(_contents(outer, files), rows.TABLES["content"])
    blocks = (_blocks(files, folder, drive_id) for drive_id, folder in folders)
    loaded["block"] = rows.checked(chain.from_iterable(blocks), rows.TABLES["block"])
    return loaded


def _contents(outer: dict[str, Any], files: Unpacked) -> Iterator[dict[str, Any]]:
    for sha256, name in outer["contents"].items():
        data = files.read(name)
        yield {"sha256": sha256, "size": len(data), "data": data}


def _load_drive(loaded: dict[str, list[dict[str, Any]]], files: Unpacked, folder: str) -> str:
    """Add the rows of one drive but for its raw blocks; its id."""
    inner = json.loads(files.read(f"{folder}/drive.json"))
    drive = rows.closed(inner["drive"], rows.TABLES["drive"])
    loaded["drive"].append(drive)
    for name, some in inner["tables"].items():
        if name in rows.TABLES:
            loaded[name] += [rows.closed(row, rows.TABLES[name]) for row in some]
    for seq, (board_ms, utc_ms, trip) in enumerate(_numbers(files, f"{folder}/clock.csv")):
        loaded["clock"].append(
            {
                "drive_id": drive["id"],
                "seq": seq,
                "board_ms": int(board_ms),
                "utc_ms": int(utc_ms),
                "round_trip_ms": float(trip),
            }
        )
    return str(drive["id"])


def _blocks(files: Unpacked, folder: str, drive_id: str) -> Iterator[dict[str, Any]]:
    """Raw blocks of a drive, cut from its record as the index says; they follow one another."""
    at = 0
    with files.open(f"{folder}/record.bin") as record:
        for seq, offset, size, crc in _numbers(files, f"{folder}/record-index.csv"):
            if int(offset) != at:
                raise ValueError(f"block {seq} of {folder} that does not follow the one before")
            data = record.read(int(size))
            at += int(size)
            yield {"drive_id": drive_id, "seq": int(seq), "data": data, "crc": int(crc)}


def _numbers(files: Unpacked, name: str) -> Iterator[list[str]]:
    """Rows of a CSV of ours below its described head and its column names."""
    with files.open(name) as raw:
        lines = (line for line in io.TextIOWrapper(raw, "utf-8-sig") if line[0] != "#")
        next(lines, None)
        yield from csv.reader(lines)


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
