"""``locum case ...``: the casebook's own verbs."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from locum.casebook.store import Store
from locum.errors import Remark
from locum.jobs.evidence import case_evidence
from locum.jobs.files import is_there
from locum.jobs.jsontext import Result, plain_json
from locum.jobs.quantities import readings_typed
from locum.locations import casebook_path
from locum.physics.readings import curve_from_readings
from locum.settings import load_settings
from locum.sheets.lookup import find_sheet
from locum.sheets.sensor_text import sensor_text


def casebook_file(path: str | None = None) -> Path:
    """The casebook given, else the one of the settings, else the workshop's."""
    return Path(path or load_settings().casebook or casebook_path())


@contextmanager
def open_casebook(path: str | None = None) -> Iterator[Store]:
    """An open casebook, begun if there is none."""
    with Store.open(casebook_file(path)) as store:
        yield store


@contextmanager
def kept_casebook(path: str | None = None) -> Iterator[Store]:
    """An open casebook to look into; a mistyped path is said to hold none and begins no file."""
    if path and not is_there(path):
        print(f"Note: {no_casebook(path).text}", file=sys.stderr)
        with Store.open(":memory:") as nothing:
            yield nothing
        return
    with open_casebook(path) as store:
        yield store


def no_casebook(path: str) -> Remark:
    return Remark("no_casebook", path, "a casebook", "no file",
                  "check the path; `locum case new`, a recording or an import begins one")  # fmt: skip


def author_of(name: str) -> str:
    """Who writes: the one named, else the technician of the settings."""
    return name or load_settings().technician


@dataclass
class Document(Result):
    """A result whose content is plain already."""

    body: dict[str, Any] = field(default_factory=dict)
    exit_code: int = 0

    def as_json(self) -> dict[str, Any]:
        return plain_json(self.body)


def new(
    title: str,
    complaint: str = "",
    vehicle: str | None = None,
    sensor: str | None = None,
    module: str | None = None,
    casebook: str | None = None,
) -> Document:
    """Open a case; sheets are copied into it verbatim, readings of the sensor as a sheet of them."""
    readings = bool(sensor and "=" in sensor)
    sheets = {
        role: (found.name, found.text)
        for role, name in (("vehicle", vehicle), ("sensor", sensor), ("module", module))
        if name and not (role == "sensor" and readings)
        for found in (find_sheet(role, name),)
    }
    warnings: list[Remark] = []
    if sensor and readings:
        fit = curve_from_readings(readings_typed(sensor))
        said = "Meter readings of this vehicle's sensor"
        sheets["sensor"] = ("readings", sensor_text(fit, said, sensor, "from the readings below"))
        warnings += fit.warnings
    with open_casebook(casebook) as store:
        fields: dict[str, Any] = {"title": title, "complaint": {"words": complaint}}
        settings = load_settings()
        fields |= {"technician": settings.technician, "workshop": settings.workshop}
        case_id = store.new_case({k: v for k, v in fields.items() if v})
        for role, (name, text) in sheets.items():
            store.attach_sheet(case_id, role, name, text)
        named = store.case(case_id).title
        return Document(
            {"id": case_id, "title": named, "sheets": sorted(sheets), "warnings": warnings}
        )


def listing(casebook: str | None = None) -> Document:
    with kept_casebook(casebook) as store:
        cases = [
            {
                "id": c.id,
                "title": c.title,
                "opened": c.opened_utc,
                "closed": c.closed_utc,
                "drives": c.drives,
            }  # fmt: skip
            for c in store.cases()
        ]
        unfiled = [{"id": d.id, "kind": d.kind, "started": d.started_utc}
                   for d in store.unfiled_drives()]  # fmt: skip
        return Document({"cases": cases, "unfiled_drives": unfiled})


def show(id: str, casebook: str | None = None) -> Document:
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        case = store.case(case_id)
        drives = [_drive_line(store, d) for d in store.drives(case_id)]
        findings = [asdict(f) for f in store.findings(case_id)]
        sheets = [
            {"role": s.role, "name": s.name, "sha256": s.sha256} for s in store.sheets(case_id)
        ]
        return Document(
            {
                **plain_json(case),
                "drives": drives,
                "findings": findings,
                "sheets": sheets,
                "hand_back": [asdict(row) for row in store.hand_back(case_id)],
                "followed_up": asdict(store.followed_up(case_id)),
                "attachments": [asdict(a) for a in store.attachments(case_id)],
            }
        )


def _drive_line(store: Store, drive) -> dict[str, Any]:
    reviews = store.reviews(drive.id)
    row = {"id": drive.id, "kind": drive.kind, "started": drive.started_utc, "how": drive.how}
    if reviews:
        result = reviews[-1].result
        row["exposure_h"] = result["exposure"]["exposed_s"] / 3600
        row["kick_outs"] = sum(r["cause"] == "none" and not r["repeat"] for r in result["releases"])
    return row


def weigh(id: str, casebook: str | None = None) -> Document:
    """The verdict as it stands, from the casebook alone."""
    from locum.verdict.weigh import weigh as weigh_evidence

    with kept_casebook(casebook) as store:
        verdict = weigh_evidence(case_evidence(store, store.case_id_from(id)))
        return Document({"verdict": verdict.as_dict()})


def note(
    id: str, words: list[str], kind: str = "note", author: str = "", casebook: str | None = None
) -> Document:
    """Append a finding; nothing written before is changed."""
    kinds = {"defect": "found"}
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        body = {"words": " ".join(words)}
        finding = store.add_finding(case_id, kinds.get(kind, kind), body, author_of(author))
        return Document({"case": case_id, "finding": finding, "kind": kind})


def attach(id: str, drive: str, casebook: str | None = None) -> Document:
    with kept_casebook(casebook) as store:
        case_id, drive_id = store.case_id_from(id), store.drive_id_from(drive)
        store.file_drive(drive_id, case_id, author=author_of(""))
        return Document({"case": case_id, "drive": drive_id})
