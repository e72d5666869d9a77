"""A case on its way out and in: pages for people, exports, files enclosed, cases imported."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from locum.casebook.store import Store
from locum.errors import FileTrouble, Remark
from locum.jobs.cases import Document, author_of, kept_casebook, open_casebook
from locum.jobs.files import is_file, write_text


def enclose(
    id: str,
    files: list[str],
    drive: str | None = None,
    note: str = "",
    author: str = "",
    casebook: str | None = None,
) -> Document:
    """Keep photos, scans or other files with the case, once each by their content."""
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        drive_id = store.drive_id_from(drive) if drive else None
        details = {"drive_id": drive_id, "note": note, "author": author_of(author)}
        kept = [store.attach_file(case_id, path, **details) for path in readable(files)]
        return Document({"case": case_id, "enclosed": [asdict(x) for x in kept]})


def readable(files: list[str]) -> list[str]:
    """The files, if all of them are there; nothing is kept of a list with a fault in it."""
    faults = [
        Remark("no_such_file", name, "a file to enclose", "none there", "check the path")
        for name in files
        if not is_file(name)
    ]
    if faults:
        raise FileTrouble(faults)
    return files


def report(
    id: str, out: str | None = None, reader: str = "workshop", casebook: str | None = None
) -> Document:
    """Write the page and, beside it, the same numbers as JSON."""
    from locum.jobs.case_report import case_page
    from locum.report import render_case

    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        facts = case_page(store, case_id)
    path = Path(out) if out else Path(f"case-{case_id[-8:]}-{reader}.html")
    written = write_text(path, render_case(facts.as_dict(), style=reader))
    beside = write_text(path.with_suffix(".json"), json.dumps(facts.as_dict(), indent=1))
    return Document({"case": case_id, "report": written, "data": beside, "for": reader})


def pages_of(store: Store, case_id: str) -> dict[str, str]:
    """Both pages of a case and their numbers, by file name."""
    from locum.jobs.case_report import case_page
    from locum.report import render_case

    facts = case_page(store, case_id).as_dict()
    return {
        "report-workshop.html": render_case(facts),
        "report-customer.html": render_case(facts, style="customer"),
        "report.json": json.dumps(facts, indent=1),
    }


def export(id: str, out: str, identity: bool = False, casebook: str | None = None) -> Document:
    """A folder below ``out`` and a zip of it, or only a zip, that open without this program."""
    from locum.casebook.export import export_case
    from locum.jobs.stored_record import decoded

    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        written = export_case(
            store, case_id, Path(out), pages=pages_of(store, case_id), decode=decoded,
            with_identity=identity,
        )  # fmt: skip
        return Document({"case": case_id, "out": str(written.resolve())})


def import_(source: str, casebook: str | None = None) -> Document:
    from locum.casebook.exchange import import_case

    with open_casebook(casebook) as store:
        arrived = import_case(store, Path(source))
        return Document({"cases": list(arrived.cases), "new_rows": arrived.new_rows})
