"""Fields of a case typed on the command line: pins, readings, vehicle, rule."""

from __future__ import annotations

import math
from typing import Any

from locum.casebook.cases import KNOWN_FIELDS
from locum.casebook.records import IDENTITY_FIELDS
from locum.errors import Misuse, Remark
from locum.jobs.cases import Document, author_of, kept_casebook

TEXT_FIELDS = ("title", "workshop", "technician", "component", "replaced_before", "what_else_changed")  # fmt: skip


def put(id: str, fields: list[str], author: str = "", casebook: str | None = None) -> Document:
    """Lay fields over the case; what was there stays in its history. All faults at once."""
    told, faults = fields_of(fields)
    if faults:
        raise Misuse(faults)
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        store.change_case(case_id, told, author=author_of(author))
        return Document({"case": case_id, "set": told})


def fields_of(pairs: list[str]) -> tuple[dict[str, Any], list[Remark]]:
    """``tap.pins.sensor=14`` as nested tables; numbers as numbers, nothing after ``=`` takes back."""
    told: dict[str, Any] = {}
    faults: list[Remark] = []
    for pair in pairs:
        path, equals, text = pair.partition("=")
        *tables, name = [part.strip() for part in path.split(".")]
        known = (tables or [name])[0]
        if not equals or not name or not all(tables):
            faults.append(Remark("field", "case set", "FIELD=VALUE, such as tap.pins.sensor=14",
                                 f"'{pair}'", "write it so"))  # fmt: skip
        elif name.lower() in IDENTITY_FIELDS or known.lower() in IDENTITY_FIELDS:
            faults.append(Remark("field_is_identity", "case set", "a field of the case",
                                 f"'{path}', which says who", "use `locum case identity set`"))  # fmt: skip
        elif known not in KNOWN_FIELDS:
            faults.append(Remark("field_unknown", "case set", "one of " + ", ".join(KNOWN_FIELDS),
                                 f"'{known}'", "choose one of them"))  # fmt: skip
        elif known in TEXT_FIELDS and tables or known not in TEXT_FIELDS and not tables:
            kind = "no table" if known in TEXT_FIELDS else f"a table: write {known}.NAME=VALUE"
            faults.append(Remark("field_kind", "case set", f"'{known}' as {KNOWN_FIELDS[known]}",
                                 f"'{pair}'", f"it is {kind}"))  # fmt: skip
        else:
            place = told
            for table in tables:
                place = place.setdefault(table, {})
            place[name] = number_or_words(text.strip())
    return told, faults


def number_or_words(text: str) -> float | int | str | None:
    """``14`` as a number, ``green/white`` as words, nothing as None."""
    for kind in (int, float):
        try:
            value = kind(text)
        except ValueError:
            continue
        if math.isfinite(value):
            return value
    return text or None
