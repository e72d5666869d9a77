"""Drives, stretches, marks and findings of a case as CSV files for people."""

from __future__ import annotations

from locum.casebook import jsontext
from locum.casebook.plainfiles import Column, csv_text
from locum.casebook.store import Store


def people_tables(store: Store, case_id: str, comma: bool) -> dict[str, bytes]:
    """Drives, stretches, marks and findings as CSV."""
    drives = store.drives(case_id)
    drive = Column("drive", "", "id of the drive")
    tables = {
        "drives.csv": (
            (
                drive,
                Column("kind", "", "what was done"),
                Column("started_utc", "ISO 8601", "begin"),
                Column("ended_utc", "ISO 8601", "end; empty if the program was stopped by force"),
                Column("how", "", "how it ended"),
                Column("blocks", "", "raw blocks"),
                Column("lost_s", "s", "record known to be missing"),
                Column("review", "", "version of the newest review"),
            ),
            [
                [
                    d.id,
                    d.kind,
                    d.started_utc,
                    d.ended_utc,
                    d.how,
                    d.blocks,
                    sum(gap.until_ms - gap.t_ms for gap in d.gaps) / 1e3,
                    _newest(store, d.id),
                ]
                for d in drives
            ],
        ),
        "stretches.csv": (
            (
                drive,
                Column("number", "", "stretch within the drive"),
                Column("start_s", "s", "board time since the drive's start"),
                Column("end_s", "s", "board time since the drive's start"),
                Column("connected", "", "what the module was fed by"),
                Column("foot", "", "still: held steady on purpose; normal"),
                Column("felt", "", "answer to 'anything felt?'; empty: not asked"),
            ),
            [
                [
                    d.id,
                    s.number,
                    s.start_ms / 1e3,
                    None if s.end_ms is None else s.end_ms / 1e3,
                    s.connected,
                    s.foot,
                    s.felt,
                ]
                for d in drives
                for s in d.stretches
            ],
        ),
        "marks.csv": (
            (
                drive,
                Column("t_s", "s", "board time when the mark was made"),
                Column("kind", "", "key, button, foot, brake, road, ..."),
                Column("ago_s", "s", "how long before it the thing marked had happened"),
                Column("note", "", "free words"),
            ),
            [[d.id, m.t_ms / 1e3, m.kind, m.ago_ms / 1e3, m.note] for d in drives for m in d.marks],
        ),
        "findings.csv": (
            (
                Column("at_utc", "ISO 8601", "when it was written"),
                Column("kind", "", "what it is about"),
                Column("author", "", "who wrote it"),
                Column("body", "JSON", "everything it says"),
            ),
            [
                [f.at_utc, f.kind, f.author, jsontext.written(f.body)]
                for f in store.findings(case_id)
            ],
        ),
    }
    return {
        name: csv_text(
            columns, cells, about=f"case {case_id}: {name[:-4]}", decimal_comma=comma
        ).encode("utf-8")
        for name, (columns, cells) in tables.items()
    }


def _newest(store: Store, drive_id: str) -> str:
    reviews = store.reviews(drive_id)
    return reviews[-1].version if reviews else ""
