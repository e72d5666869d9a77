"""``locum drive ...``: recordings listed, shown, reviewed again, exported as plain files."""

from __future__ import annotations

import csv
import io
from dataclasses import fields, replace
from pathlib import Path

import numpy as np

from locum.casebook.kept_logs import log_entries
from locum.casebook.store import Store
from locum.jobs.cases import Document, _drive_line, open_casebook
from locum.jobs.context import review_context
from locum.jobs.files import write_text
from locum.jobs.jsontext import plain_json
from locum.jobs.kept_circuit import circuit_of_drive
from locum.jobs.live import MARK_KINDS, REVIEW_VERSION, stored_review
from locum.jobs.stored_record import chunks_of, foreign_rows, with_marks, with_slow_rows
from locum.review import stream
from locum.review.chunk import Chunk
from locum.review.context import Context
from locum.review.findings import Findings

COLUMNS = {
    "t_ms": "board time since the recording began [ms]",
    "span_ms": "time the row covers [ms]",
    "count": "readings in it",
    "node_min": "least voltage of the module's line [0.1 mV]",
    "node_mean": "mean voltage of the module's line [0.1 mV]",
    "node_max": "greatest voltage of the module's line [0.1 mV]",
    "ohm_min": "least resistance at the ohmmeter [milliohm], -1 not read, 1073741823 open",
    "ohm_mean": "mean resistance at the ohmmeter [milliohm]",
    "ohm_max": "greatest resistance at the ohmmeter [milliohm]",
    "source": "0 module sees the real sensor, 1 the stand-in, 2 changing over",
    "line": "watch line, 1 to 6",
    "level": "1 = voltage high at the pin",
    "permille": "share of time high over 50 ms [1/1000]",
    "kind": "marks: 0 button 1 key 2 foot 3 brake 4 road 5 felt 6 not felt; moves: 0 relay on "
    "1 relay off 2 step 3 open 4 short 5 through 6 follow 7 return",
    "ago_ms": "how long before the press it was felt [ms]",
    "value": "of a step the expected line voltage [0.1 mV]; of a slow channel its value",
    "state": "0 rest 1 ready 2 holding 3 running 4 returning 5 tripped",
    "cause": "why the state was entered, as in locum_board/states.py",
    "channel": "0 throttle 1 return offset 2 VBUS 3 VPOT [0.1 mV] 4 board [0.001 degC] 5 speed",
    "until_ms": "end of the gap [ms]",
    "lost": "records known to be lost",
}
"""Every column of every exported table; a test holds it against the record's types."""


def review_drive(store: Store, drive_id: str) -> Findings:
    """Review a stored recording with the sheets kept beside it and the logs filed with it."""
    drive = store.drive(drive_id)
    circuit = circuit_of_drive(store, drive_id)
    marks = [(m.t_ms, MARK_KINDS[m.kind], m.ago_ms) for m in drive.marks if m.kind in MARK_KINDS]
    context = review_context(circuit)
    rows = foreign_rows(store, drive_id, throttle_wired=context.throttle)
    chunks = with_slow_rows(with_marks(chunks_of(store, drive_id), marks), rows)
    return stream.review(with_road(context, store, drive_id), chunks)


def with_road(context: Context, store: Store, drive_id: str) -> Context:
    """The context with the speed below which the module lets go by design, where a log told it."""
    told = [log["road_below_kmh"] for log in log_entries(store, drive_id)
            if log.get("road_below_kmh") is not None]  # fmt: skip
    return replace(context, road_below_kmh=float(told[-1])) if told else context


def listing(case: str | None = None, casebook: str | None = None) -> Document:
    with open_casebook(casebook) as store:
        case_id = store.case_id_from(case) if case else None
        return Document({"drives": [_drive_line(store, d) for d in store.drives(case_id)]})


def show(id: str, casebook: str | None = None) -> Document:
    with open_casebook(casebook) as store:
        drive = store.drive(store.drive_id_from(id))
        reviews = store.reviews(drive.id)
        body = plain_json(drive)
        body["review"] = reviews[-1].result if reviews else None
        return Document(body)


def review(id: str, casebook: str | None = None) -> Document:
    """Review again with this version; the older result stays."""
    with open_casebook(casebook) as store:
        drive_id = store.drive_id_from(id)
        found = review_drive(store, drive_id)
        store.add_review(drive_id, REVIEW_VERSION, stored_review(found))
        return Document({"drive": drive_id, "version": REVIEW_VERSION, **found.as_dict()})


def export(id: str, out: str, casebook: str | None = None) -> Document:
    """One CSV per table of the record, and a page that describes every column."""
    folder = Path(out)
    texts: dict[str, io.StringIO] = {}
    with open_casebook(casebook) as store:
        drive_id = store.drive_id_from(id)
        for chunk in chunks_of(store, drive_id):
            for item in fields(Chunk)[2:]:
                _add_csv(texts, item.name, getattr(chunk, item.name))
    written = [write_text(folder / f"{name}.csv", t.getvalue()) for name, t in texts.items()]
    lines = [f"{name}: {words}" for name, words in COLUMNS.items()]
    written.append(write_text(folder / "columns.txt", "\n".join(lines) + "\n"))
    return Document({"drive": drive_id, "out": str(folder.resolve()), "files": written})


def _add_csv(texts: dict[str, io.StringIO], name: str, rows: np.ndarray) -> None:
    """Rows of one chunk as text; a table gets its head with its first row."""
    if not len(rows):
        return
    begun = name in texts
    text = texts.setdefault(name, io.StringIO())
    writer = csv.writer(text, lineterminator="\n")
    if not begun:
        writer.writerow(rows.dtype.names or ())
    writer.writerows(rows.tolist())
