"""``locum drive ...``: recordings listed, shown, reviewed again, exported as plain files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from locum.casebook.drive_export import add_tables
from locum.casebook.kept_logs import log_entries
from locum.casebook.parcel import sent
from locum.casebook.store import Store
from locum.jobs.case_rule import case_rule
from locum.jobs.cases import Document, _drive_line, kept_casebook
from locum.jobs.context import review_context, with_answer
from locum.jobs.evidence import measured_answer
from locum.jobs.intake import MARK_KINDS
from locum.jobs.jsontext import plain_json
from locum.jobs.kept_circuit import circuit_of_drive
from locum.jobs.review_kept import REVIEW_VERSION, stored_review
from locum.jobs.stored_record import chunks_of, foreign_rows, with_marks, with_slow_rows
from locum.review import stream
from locum.review.context import Context
from locum.review.findings import Findings


def review_drive(store: Store, drive_id: str) -> Findings:
    """Review a stored recording with the sheets kept beside it and the logs filed with it."""
    drive = store.drive(drive_id)
    circuit = circuit_of_drive(store, drive_id)
    marks = [(m.t_ms, MARK_KINDS[m.kind], m.ago_ms) for m in drive.marks if m.kind in MARK_KINDS]
    answer = measured_answer(store, drive.case_id) if drive.case_id else (None, None)
    context = with_answer(review_context(circuit), *answer)
    rows = foreign_rows(store, drive_id, throttle_wired=context.throttle)
    chunks = with_slow_rows(with_marks(chunks_of(store, drive_id), marks), rows)
    return stream.review(with_road(context, store, drive_id), chunks)


def with_road(context: Context, store: Store, drive_id: str) -> Context:
    """The context with the speed below which the module lets go by design, where a log told it."""
    told = [log["road_below_kmh"] for log in log_entries(store, drive_id)
            if log.get("road_below_kmh") is not None]  # fmt: skip
    return replace(context, road_below_kmh=float(told[-1])) if told else context


def listing(case: str | None = None, casebook: str | None = None) -> Document:
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(case) if case else None
        return Document({"drives": [_drive_line(store, d) for d in store.drives(case_id)]})


def show(id: str, casebook: str | None = None) -> Document:
    with kept_casebook(casebook) as store:
        drive = store.drive(store.drive_id_from(id))
        reviews = store.reviews(drive.id)
        body = plain_json(drive)
        body["review"] = reviews[-1].result if reviews else None
        return Document(body)


def review(id: str, casebook: str | None = None) -> Document:
    """Review again with this version; the older result stays."""
    with kept_casebook(casebook) as store:
        drive_id = store.drive_id_from(id)
        found = review_drive(store, drive_id)
        store.add_review(
            drive_id,
            REVIEW_VERSION,
            stored_review(found, case_rule(store, store.drive(drive_id).case_id)),
        )
        return Document({"drive": drive_id, "version": REVIEW_VERSION, **found.as_dict()})


def export(id: str, out: str, casebook: str | None = None) -> Document:
    """The record as CSV tables with their columns described, in a folder that is made."""
    place = Path(out).absolute()
    with kept_casebook(casebook) as store, sent(place.name, place) as parcel:
        drive_id = store.drive_id_from(id)
        names = add_tables(parcel, "", chunks_of(store, drive_id), f"drive {drive_id}")
    files = [str(place / name) for name in names]
    return Document({"drive": drive_id, "out": str(place), "files": files})
