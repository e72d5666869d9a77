"""One drive of an export: its rows, its raw record, and the record as tables for people."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from typing import Any, TextIO

from locum.casebook import rows
from locum.casebook.parcel import Parcel
from locum.casebook.plainfiles import Column, add_rows, begin_csv, safe_name
from locum.casebook.record_tables import write_tables
from locum.casebook.store import Store

Decode = Callable[[Iterable[bytes]], Iterable[Any]]
"""Raw blocks to ``review.chunk.Chunk`` objects, such as ``recording.decode`` makes."""

TABLES = ("drive_sheet", "stretch", "mark", "answer", "gap", "review")
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


def json_bytes(value: Any) -> bytes:
    """JSON for people: UTF-8, indented, a line end at the end."""
    return (json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1) + "\n").encode("utf-8")


def folder_of(drive: dict[str, Any]) -> str:
    """Where a drive's files lie in an export."""
    return f"drives/{drive['started_utc'][:10]}-{safe_name(drive['kind'])}-{drive['id'][-8:]}"


def add_drive(
    store: Store,
    parcel: Parcel,
    drive: dict[str, Any],
    decode: Decode | None,
    decimal_comma: bool,
    notes: list[str],
) -> list[str]:
    """Write the files of one drive; the content that its rows refer to."""
    folder = folder_of(drive)
    found = {name: rows.rows_of_drive(store.db, name, drive["id"]) for name in TABLES}
    plain = {
        name: [rows.opened(row, rows.TABLES[name]) for row in some] for name, some in found.items()
    }
    parcel.add(
        f"{folder}/drive.json",
        json_bytes({"drive": rows.opened(drive, rows.TABLES["drive"]), "tables": plain}),
    )
    size = _add_record(store, parcel, folder, drive["id"])
    with parcel.text(f"{folder}/clock.csv") as out:
        begin_csv(out, _CLOCK, about="readings of both clocks")
        add_rows(out, store.clock_readings(drive["id"]))
    if decode and size:
        about = f"drive {drive['id']}"
        try:
            add_tables(parcel, folder, decode(store.blocks(drive["id"])), about, decimal_comma)
        except OSError:  # the disk's fault and not the record's: the whole export fails
            raise
        except Exception as error:  # whatever a decoder makes of foreign bytes must not stop it
            notes.append(f"Drive {drive['id']} could not be decoded by this version ({error}).")
    return list(rows.content_used(found))


def _add_record(store: Store, parcel: Parcel, folder: str, drive_id: str) -> int:
    """The raw blocks one after another, and where each begins; how many bytes they are."""
    raw = "raw blocks of the board, as they came, one after another"
    offset = 0
    with (
        parcel.text(f"{folder}/record-index.csv") as index,
        parcel.file(f"{folder}/record.bin") as record,
    ):
        begin_csv(index, _INDEX, about=f"record.bin: {raw}")
        for row in rows.blocks_of(store.db, drive_id):
            add_rows(index, [(row["seq"], offset, len(row["data"]), row["crc"])])
            record.write(row["data"])
            offset += len(row["data"])
    return offset


def add_tables(
    parcel: Parcel, folder: str, chunks: Iterable[Any], about: str, decimal_comma: bool = False
) -> list[str]:
    """The record as CSV tables in the parcel's ``folder``, none if they fail; their names."""
    begun: list[str] = []
    try:
        with ExitStack() as files:

            def begin(table: str) -> TextIO:
                begun.append(f"{folder}/{table}.csv" if folder else f"{table}.csv")
                return files.enter_context(parcel.text(begun[-1]))

            write_tables(chunks, begin, about=about, decimal_comma=decimal_comma)
    except BaseException:
        for name in begun:
            parcel.drop(name)
        raise
    return begun
