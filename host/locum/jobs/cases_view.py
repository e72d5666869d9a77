"""What the Cases place shows: cases found, one looked at, recordings not filed yet. No screen in here."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from locum.casebook.store import Store
from locum.errors import Misuse, Remark
from locum.jobs.case_pages import pages_of
from locum.jobs.cases import attach, author_of, new, note, open_casebook
from locum.jobs.files import write_text
from locum.locations import data_folder

SHOWN_FINDINGS = 6
QUIET_KINDS = ("filed", "signature", "verdict")
"""Findings the program makes itself: not worth a line here."""
KINDS = {"note": "note", "found": "defect", "repair": "repair"}
"""What a person adds in this place -> the kind of finding it is written as."""


@dataclass(frozen=True)
class CaseRow:
    id: str
    title: str
    opened: str
    drives: int
    snippet: str = ""


@dataclass(frozen=True)
class DriveRow:
    """One recording, filed or not."""

    id: str
    kind: str
    started: str
    minutes: float | None
    """None while it runs or where it was never reviewed. [min]"""
    kick_outs: int | None


@dataclass(frozen=True)
class CaseLook:
    """One case at a glance."""

    id: str
    title: str
    complaint: str
    drives: tuple[DriveRow, ...]
    findings: tuple[tuple[str, str, str], ...]
    """(date, kind, words), newest last."""


def case_rows(words: str = "", casebook: str | None = None) -> list[CaseRow]:
    """Cases found by words, or all of them, newest first."""
    with open_casebook(casebook) as store:
        if words.strip():
            return [
                CaseRow(hit.id, hit.title, store.case(hit.id).opened_utc[:10],
                        store.case(hit.id).drives, hit.snippet)
                for hit in store.find(words)
            ]  # fmt: skip
        return [CaseRow(c.id, c.title, c.opened_utc[:10], c.drives) for c in store.cases(limit=200)]


def unfiled_rows(casebook: str | None = None) -> list[DriveRow]:
    """Recordings that belong to no case yet, newest first."""
    with open_casebook(casebook) as store:
        return [_drive_row(store, drive) for drive in reversed(store.unfiled_drives())]


def _drive_row(store: Store, drive) -> DriveRow:
    reviews = store.reviews(drive.id)
    minutes = kicks = None
    if reviews:
        result = reviews[-1].result
        minutes = result["exposure"]["recorded_s"] / 60
        kicks = sum(r["cause"] == "none" and not r["repeat"] for r in result["releases"])
    started = drive.started_utc[:16].replace("T", " ")
    return DriveRow(drive.id, drive.kind, started, minutes, kicks)


def look_into(case: str, casebook: str | None = None) -> CaseLook:
    """What the case holds, in short."""
    with open_casebook(casebook) as store:
        case_id = store.case_id_from(case)
        held = store.case(case_id)
        complaint = str((held.fields.get("complaint") or {}).get("words", ""))
        told = [
            (f.at_utc[:10], f.kind, str(f.body.get("words", "")))
            for f in store.findings(case_id) if f.kind not in QUIET_KINDS and f.body.get("words")
        ]  # fmt: skip
        drives = tuple(_drive_row(store, drive) for drive in store.drives(case_id))
        return CaseLook(case_id, held.title, complaint, drives, tuple(told[-SHOWN_FINDINGS:]))


def begin_case(title: str, casebook: str | None = None) -> str:
    """A new case with a title; its id."""
    if not title.strip():
        raise Misuse(Remark("title", "case", "a title", "nothing", "a few words do"))
    return str(new(title.strip(), casebook=casebook).body["id"])


def add_finding(case: str, kind: str, words: str, casebook: str | None = None) -> None:
    """A note, the defect that was seen, or the repair; nothing written before is changed."""
    if not words.strip():
        raise Misuse(Remark("words", "case", "a few words", "nothing", "say what was seen or done"))
    note(case, words.split(), kind=KINDS[kind], author=author_of(""), casebook=casebook)


def file_recording(case: str, drive: str, casebook: str | None = None) -> None:
    attach(case, drive, casebook=casebook)


def write_pages(case: str, folder: Path | None = None, casebook: str | None = None) -> list[str]:
    """Both pages of a case and their numbers; where they were written."""
    with open_casebook(casebook) as store:
        case_id = store.case_id_from(case)
        pages = pages_of(store, case_id)
    target = folder or data_folder() / "reports" / case_id[-8:].lower()
    return [write_text(target / name, text) for name, text in pages.items()]
