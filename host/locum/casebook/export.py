"""A case as a folder and a zip of plain files that open without locum.

``case.json`` and the ``drive.json`` beside each recording hold every row exactly and are what
import reads; the CSV files and pages say the same for people. The folder appears whole or not at
all: it is written beside its place and moved there at the end.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import locum
from locum.casebook import jsontext, rows
from locum.casebook.drive_export import Decode, add_drive, json_bytes
from locum.casebook.parcel import Parcel, sent
from locum.casebook.people_tables import people_tables
from locum.casebook.plainfiles import checksum_lines, free_in, safe_name
from locum.casebook.records import Case
from locum.casebook.schema import SCHEMA
from locum.casebook.store import Store

FORMAT = 1
"""Number of this layout of files; a reader refuses a greater one."""

_CASE_TABLES = ("cases", "case_change", "case_sheet", "finding", "attachment")


def export_case(
    store: Store,
    case_id: str,
    out: Path | str,
    *,
    pages: dict[str, str] | None = None,
    decode: Decode | None = None,
    with_identity: bool = False,
    decimal_comma: bool = False,
    as_zip: bool = True,
) -> Path:
    """Write a case below the folder ``out`` and, with ``as_zip``, a zip of it beside; or only a zip,
    where ``out`` ends so. Returns the folder or zip made.

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
    out = Path(out)
    title = store.case(case_id).title
    name = f"case-{safe_name(title, 'untitled')[:40].strip('-._').lower()}-{case_id[-8:].lower()}"
    only_zip = out.suffix.lower() == ".zip" and not out.is_dir()
    folder = None if only_zip else out / name
    archive = out if only_zip else out / f"{name}.zip" if as_zip else None
    with sent(name, folder, archive) as parcel:
        add_case(
            store,
            case_id,
            parcel,
            pages=pages,
            decode=decode,
            with_identity=with_identity,
            decimal_comma=decimal_comma,
        )
    return folder or out


def add_case(
    store: Store,
    case_id: str,
    parcel: Parcel,
    *,
    pages: dict[str, str] | None = None,
    decode: Decode | None = None,
    with_identity: bool = False,
    decimal_comma: bool = False,
) -> None:
    """Put all files of a case into a parcel, one at a time."""
    case = store.case(case_id)
    tables = {name: rows.rows_of_case(store.db, name, case_id) for name in _CASE_TABLES}
    drives = _drives(store, case_id)
    notes: list[str] = []
    contents = dict.fromkeys(rows.content_used(tables))
    for drive in drives:
        used = add_drive(store, parcel, drive, decode, decimal_comma, notes)
        contents.update(dict.fromkeys(used))
    taken: set[str] = set()
    names = _add_content(store, parcel, tables, drives, taken, contents)
    everything = {**tables, "calibration": _calibrations(store, drives)}
    parcel.add("case.json", json_bytes(_whole_case(case, names, everything)))
    if with_identity:
        identity = {"case_id": case_id, "identity": store.identity(case_id)}
        parcel.add("identity.json", json_bytes(identity))
    for name, data in people_tables(store, case_id, decimal_comma).items():
        parcel.add(name, data)
    for name, text in (pages or {}).items():
        parcel.add(free_in(taken, safe_name(name, "page")), text.encode("utf-8"))
    parcel.add("README.txt", _readme(case, notes, with_identity, sorted(parcel.sums)).encode())
    parcel.add("checksums.txt", checksum_lines(parcel.sums).encode())


def _drives(store: Store, case_id: str) -> list[dict[str, Any]]:
    """Rows of the case's drives."""
    return [
        dict(store.db.rows("SELECT * FROM drive WHERE id = ?", (drive_id,))[0])
        for drive_id in rows.drives_of(store.db, case_id)
    ]


def _whole_case(
    case: Case, names: dict[str, str], tables: dict[str, list[dict[str, Any]]]
) -> dict[str, Any]:
    """What ``case.json`` holds: every row of the case, exactly."""
    return {
        "what": "a case of a locum casebook; read README.txt first",
        "format": FORMAT,
        "schema": SCHEMA,
        "program": f"locum {locum.__version__}",
        "case": {"id": case.id, "title": case.title, "as_it_stands": case.fields},
        "contents": names,
        "tables": {
            name: [rows.opened(row, rows.TABLES[name]) for row in found]
            for name, found in tables.items()
        },
    }


def _calibrations(store: Store, drives: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows of the boards that made these drives."""
    serials = {jsontext.read(drive["board"]).get("serial") for drive in drives} - {None}
    return [
        dict(row)
        for serial in sorted(map(str, serials))
        for row in store.db.rows(
            "SELECT * FROM calibration WHERE board_serial = ? ORDER BY id", (serial,)
        )
    ]


def _add_content(
    store: Store,
    parcel: Parcel,
    tables: dict[str, list[dict[str, Any]]],
    drives: list[dict[str, Any]],
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
        parcel.add(names[sha256], store.content(sha256))
    return names


def _sheet_name(row: dict[str, Any]) -> str:
    return safe_name(f"{row['role']}-{row['name']}", "sheet")


def _readme(case: Case, notes: list[str], with_identity: bool, names: list[str]) -> str:
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
