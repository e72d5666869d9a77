"""Drives, stretches, marks and findings of a case as CSV files for people."""

from __future__ import annotations

from typing import Any

from locum.casebook import jsontext
from locum.casebook.plainfiles import Column, csv_text
from locum.casebook.records import Drive, Finding, Mark, Stretch
from locum.casebook.store import Store

_DRIVE = Column("drive", "", "id of the drive")

_DRIVES = (
    _DRIVE,
    Column("kind", "", "what was done"),
    Column("started_utc", "ISO 8601", "begin"),
    Column("ended_utc", "ISO 8601", "end; empty if the program was stopped by force"),
    Column("how", "", "how it ended"),
    Column("blocks", "", "raw blocks"),
    Column("lost_s", "s", "record known to be missing"),
    Column("review", "", "version of the newest review"),
)
_STRETCHES = (
    _DRIVE,
    Column("number", "", "stretch within the drive"),
    Column("start_s", "s", "board time since the drive's start"),
    Column("end_s", "s", "board time since the drive's start"),
    Column("connected", "", "what the module was fed by"),
    Column("foot", "", "still: held steady on purpose; normal"),
    Column("felt", "", "answer to 'anything felt?'; empty: not asked"),
)
_MARKS = (
    _DRIVE,
    Column("t_s", "s", "board time when the mark was made"),
    Column("kind", "", "key, button, foot, brake, road, ..."),
    Column("ago_s", "s", "how long before it the thing marked had happened"),
    Column("note", "", "free words"),
)
_FINDINGS = (
    Column("at_utc", "ISO 8601", "when it was written"),
    Column("kind", "", "what it is about"),
    Column("author", "", "who wrote it"),
    Column("body", "JSON", "everything it says"),
)


def people_tables(store: Store, case_id: str, comma: bool) -> dict[str, bytes]:
    """File name to CSV of the drives, stretches, marks and findings of a case.

    With ``comma`` numbers have a decimal comma.
    """
    drives = store.drives(case_id)
    tables = {
        "drives": (_DRIVES, [_drive_row(store, d) for d in drives]),
        "stretches": (_STRETCHES, [_stretch_row(d, s) for d in drives for s in d.stretches]),
        "marks": (_MARKS, [_mark_row(d, m) for d in drives for m in d.marks]),
        "findings": (_FINDINGS, [_finding_row(f) for f in store.findings(case_id)]),
    }
    return {
        f"{name}.csv": csv_text(
            columns, cells, about=f"case {case_id}: {name}", decimal_comma=comma
        ).encode("utf-8")
        for name, (columns, cells) in tables.items()
    }


def _drive_row(store: Store, drive: Drive) -> list[Any]:
    lost_s = sum(gap.until_ms - gap.t_ms for gap in drive.gaps) / 1e3
    reviews = store.reviews(drive.id)
    newest = reviews[-1].version if reviews else ""
    return [
        drive.id, drive.kind, drive.started_utc, drive.ended_utc, drive.how, drive.blocks, lost_s,
        newest,
    ]  # fmt: skip


def _stretch_row(drive: Drive, stretch: Stretch) -> list[Any]:
    end_s = None if stretch.end_ms is None else stretch.end_ms / 1e3
    return [
        drive.id, stretch.number, stretch.start_ms / 1e3, end_s, stretch.connected, stretch.foot,
        stretch.felt,
    ]  # fmt: skip


def _mark_row(drive: Drive, mark: Mark) -> list[Any]:
    return [drive.id, mark.t_ms / 1e3, mark.kind, mark.ago_ms / 1e3, mark.note]


def _finding_row(finding: Finding) -> list[Any]:
    return [finding.at_utc, finding.kind, finding.author, jsontext.written(finding.body)]
