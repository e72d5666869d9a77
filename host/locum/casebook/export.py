"""A case as a folder and a zip of plain files that open without locum.

``case.json`` and the ``drive.json`` beside each recording hold every row exactly and are what
import reads; the CSV files and pages say the same for people. The folder appears whole or not at
all: it is written beside its place and moved there at the end.
"""

from __future__ import annotations

import json
import os
import shutil
import zipfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import locum
from locum.casebook import jsontext, rows
from locum.casebook.people_tables import people_tables
from locum.casebook.plainfiles import Column, checksums, csv_text, free_in, safe_name
from locum.casebook.record_tables import record_tables
from locum.casebook.schema import SCHEMA
from locum.casebook.store import Store
from locum.errors import FileTrouble, Remark

FORMAT = 1
"""Number of this layout of files; a reader refuses a greater one."""

_CASE_TABLES = ("cases", "case_change", "case_sheet", "finding", "attachment")
_DRIVE_TABLES = ("drive_sheet", "stretch", "mark", "answer", "gap", "review")
Decode = Callable[[Iterable[bytes]], Iterable[Any]]
"""Raw blocks to ``review.chunk.Chunk`` objects, such as ``recording.decode`` makes."""


def export_case(
    store: Store,
    case_id: str,
    parent: Path | str,
    *,
    pages: dict[str, str] | None = None,
    decode: Decode | None = None,
    with_identity: bool = False,
    decimal_comma: bool = False,
    as_zip: bool = True,
) -> Path:
    """Write a case below ``parent`` and return the folder made.

    Parameters
    ----------
    pages
        File name to text, such as the two reports and their JSON.
    decode
        Makes readable tables of the raw blocks; without it only the raw blocks are written.
    with_identity
        Also write who the car belongs to, in a file of its own.

    Raises
    ------
    FileTrouble
        If a folder of that name is there, or the disk will not take it; nothing is left behind.
    """
    files = case_files(
        store,
        case_id,
        pages=pages,
        decode=decode,
        with_identity=with_identity,
        decimal_comma=decimal_comma,
    )
    title = store.case(case_id).title
    name = f"case-{safe_name(title, 'untitled')[:40].strip('-._').lower()}-{case_id[-8:].lower()}"
    return write_files(files, Path(parent), name, as_zip)


def write_files(files: dict[str, bytes], parent: Path, name: str, as_zip: bool) -> Path:
    """Write files into ``parent/name``, whole or not at all, and ``name.zip`` beside it."""
    target, archive = parent / name, parent / f"{name}.zip"
    for place in (target, archive) if as_zip else (target,):
        if place.exists():
            raise FileTrouble(
                Remark(
                    "export_exists",
                    str(place),
                    "a new place for the export",
                    "something of that name",
                    "move it away or choose another folder; nothing was replaced",
                )
            )
    waiting = parent / f".{name}.part"
    try:
        shutil.rmtree(waiting, ignore_errors=True)
        for path, data in files.items():
            place = waiting / "folder" / path
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(data)
        if as_zip:
            _write_zip(waiting / "zip", name, files)
            os.replace(waiting / "zip", archive)
        os.replace(waiting / "folder", target)
    except OSError as error:
        raise FileTrouble(
            Remark(
                "export_failed",
                str(target),
                "to write the export",
                error.strerror or str(error),
                "free some space or choose another folder; nothing was left behind",
            )
        ) from error
    finally:
        shutil.rmtree(waiting, ignore_errors=True)
    return target


def _write_zip(path: Path, name: str, files: dict[str, bytes]) -> None:
    """The same files always give the same zip: no times in it."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for inner, data in sorted(files.items()):
            entry = zipfile.ZipInfo(f"{name}/{inner}", (1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, data)


def case_files(
    store: Store,
    case_id: str,
    *,
    pages: dict[str, str] | None = None,
    decode: Decode | None = None,
    with_identity: bool = False,
    decimal_comma: bool = False,
) -> dict[str, bytes]:
    """Path inside the export to content, everything but writing it."""
    case = store.case(case_id)
    tables = {name: rows.rows_of_case(store.db, name, case_id) for name in _CASE_TABLES}
    drives = [
        dict(store.db.rows("SELECT * FROM drive WHERE id = ?", (d,))[0])
        for d in rows.drives_of(store.db, case_id)
    ]
    files: dict[str, bytes] = {}
    taken: set[str] = set()
    contents = dict.fromkeys(rows.content_used(tables))
    notes: list[str] = []
    for drive in drives:
        folder = f"drives/{drive['started_utc'][:10]}-{safe_name(drive['kind'])}-{drive['id'][-8:]}"
        used, found = _drive_files(store, drive, decode, decimal_comma, notes)
        contents.update(dict.fromkeys(used))
        files.update({f"{folder}/{name}": data for name, data in found.items()})
    names = _content_files(store, tables, drives, files, taken, contents)
    serials = {jsontext.read(drive["board"]).get("serial") for drive in drives} - {None}
    calibrations = [
        dict(row)
        for serial in sorted(map(str, serials))
        for row in store.db.rows(
            "SELECT * FROM calibration WHERE board_serial = ? ORDER BY id", (serial,)
        )
    ]
    everything = {**tables, "calibration": calibrations}
    files["case.json"] = _json(
        {
            "what": "a case of a locum casebook; read README.txt first",
            "format": FORMAT,
            "schema": SCHEMA,
            "program": f"locum {locum.__version__}",
            "case": {"id": case.id, "title": case.title, "as_it_stands": case.fields},
            "contents": names,
            "tables": {
                name: [rows.opened(row, rows.TABLES[name]) for row in found]
                for name, found in everything.items()
            },
        }
    )
    if with_identity:
        files["identity.json"] = _json({"case_id": case_id, "identity": store.identity(case_id)})
    files.update(people_tables(store, case_id, decimal_comma))
    for name, text in (pages or {}).items():
        files[free_in(taken, safe_name(name, "page"))] = text.encode("utf-8")
    files["README.txt"] = _readme(case, notes, with_identity, sorted(files)).encode("utf-8")
    files["checksums.txt"] = checksums(files).encode("utf-8")
    return files


def _json(value: Any) -> bytes:
    return (json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode("utf-8")


def _content_files(
    store: Store,
    tables: dict[str, list[dict[str, Any]]],
    drives: list[dict[str, Any]],
    files: dict[str, bytes],
    taken: set[str],
    contents: dict[str, None],
) -> dict[str, str]:
    """Write each sheet and attachment once; SHA-256 to its path."""
    wanted: dict[str, str] = {}
    for row in tables["case_sheet"]:
        wanted.setdefault(row["sha256"], f"sheets/{_sheet_name(row)}")
    for drive in drives:
        for row in rows.rows_of_drive(store.db, "drive_sheet", drive["id"]):
            wanted.setdefault(row["sha256"], f"sheets/{_sheet_name(row)}")
    for row in tables["attachment"]:
        wanted.setdefault(row["sha256"], f"attachments/{safe_name(row['name'], 'attachment')}")
    names = {}
    for sha256 in contents:
        folder, _, name = wanted[sha256].partition("/")
        names[sha256] = free_in(taken, f"{folder}/{name}")
        files[names[sha256]] = store.content(sha256)
    return names


def _sheet_name(row: dict[str, Any]) -> str:
    return safe_name(f"{row['role']}-{row['name']}", "sheet")


_CLOCK = (
    Column("board_ms", "ms", "board time"),
    Column("utc_ms", "ms since 1970 UTC", "the computer's clock, midway between asking and answer"),
    Column("round_trip_ms", "ms", "time between asking and answer"),
)
_INDEX = (
    Column("seq", "", "number of the block within the drive"),
    Column("offset", "byte", "where it begins in record.bin"),
    Column("size", "byte", "its length"),
    Column("crc32", "", "CRC-32 of its bytes"),
)


def _drive_files(
    store: Store,
    drive: dict[str, Any],
    decode: Decode | None,
    decimal_comma: bool,
    notes: list[str],
) -> tuple[list[str], dict[str, bytes]]:
    """Files of one drive, and the content its rows refer to."""
    found = {name: rows.rows_of_drive(store.db, name, drive["id"]) for name in _DRIVE_TABLES}
    blocks = rows.rows_of_drive(store.db, "block", drive["id"])
    index, offset = [], 0
    for row in blocks:
        index.append((row["seq"], offset, len(row["data"]), row["crc"]))
        offset += len(row["data"])
    raw = "raw blocks of the board, as they came, one after another"
    files = {
        "drive.json": _json(
            {
                "drive": rows.opened(drive, rows.TABLES["drive"]),
                "tables": {
                    name: [rows.opened(row, rows.TABLES[name]) for row in some]
                    for name, some in found.items()
                },
            }
        ),
        "record.bin": b"".join(row["data"] for row in blocks),
        "record-index.csv": csv_text(_INDEX, index, about=f"record.bin: {raw}").encode("utf-8"),
        "clock.csv": csv_text(
            _CLOCK, store.clock_readings(drive["id"]), about="readings of both clocks"
        ).encode("utf-8"),
    }
    if decode and blocks:
        files.update(_decoded(decode, [row["data"] for row in blocks], drive, decimal_comma, notes))
    return list(rows.content_used(found)), files


def _decoded(
    decode: Decode, blocks: list[bytes], drive: dict[str, Any], comma: bool, notes: list[str]
) -> dict[str, bytes]:
    """Readable tables of a record. Blocks of another version may not decode: the export then says
    so and goes on, because the raw blocks are there."""
    about = f"drive {drive['id']}"
    try:
        tables = record_tables(decode(blocks), about=about, decimal_comma=comma)
    except Exception as error:  # whatever a decoder makes of foreign bytes must not stop the export
        notes.append(f"Drive {drive['id']} could not be decoded by this version ({error}).")
        return {}
    return {f"{name}.csv": data for name, data in tables.items()}


def _readme(case: Any, notes: list[str], with_identity: bool, names: list[str]) -> str:
    lines = [
        f"Case {case.id}: {case.title}",
        "",
        "Everything known of one case, in plain files: text is UTF-8, times of day are UTC,",
        "times within a drive are board time since its start. Each CSV file says on its first",
        "lines, which begin with #, what its columns hold and in which unit. A text cell that a",
        "spreadsheet would take for a formula has a ' before it.",
        "",
        "case.json           every row of the case, exactly; 'contents' names the sheets and",
        "                    attachments by their SHA-256",
        "drives.csv ...      the same for reading: drives, stretches, marks, findings",
        "drives/*/           one recording each: drive.json (rows and reviews), record.bin (raw",
        "                    blocks of the board), record-index.csv, clock.csv, and where it could",
        "                    be decoded samples.csv (volts, ohms), edges.csv, duties.csv,",
        "                    slow-channels.csv, board-events.csv",
        "sheets/             sensor, module, vehicle and plan as used, byte for byte",
        "attachments/        photos and scans",
        "checksums.txt       SHA-256 of every file; 'sha256sum -c checksums.txt' tells of changes",
        "",
        "Who the vehicle belongs to is "
        + ("in identity.json: keep it apart." if with_identity else "left out on purpose."),
        *(["", *notes] if notes else []),
        "",
        "Files:",
        *(f"  {name}" for name in names),
    ]
    return "\n".join(lines) + "\n"
