"""Cases found by words or by likeness: a case's signature from its reviews, and search by it."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

import numpy as np

from locum.casebook.alike import FEWEST_SIMILAR, Criteria
from locum.casebook.store import Store
from locum.errors import Misuse, Refused, Remark
from locum.jobs.cases import Document, kept_casebook

FEWEST_GLITCHES = 3
"""Below this a direction or a span of lengths would be an accident."""


def signature_of(store: Store, case_id: str) -> dict[str, Any]:
    """What the real glitches of a case have in common; empty below three of them.

    Taken are those before the repair that a kick-out followed or, where none was linked, all;
    ``length_ms`` is their shortest and longest, ``after_minutes`` when the first came after the
    recording began.
    """
    linked, others = [], []
    repairs = store.findings(case_id, "repair")
    for drive in store.drives(case_id):
        reviews = store.reviews(drive.id)
        if not reviews or drive.settings.get("repaired"):
            continue
        if repairs and drive.started_utc > repairs[0].at_utc:
            continue
        result = reviews[-1].result
        causes = {r["linked_glitch"] for r in result["releases"] if r["cause"] == "none"}
        for glitch in result["glitches"]:
            if not glitch["ours"]:
                (linked if glitch["t_ms"] in causes else others).append(glitch)
    chosen = linked if len(linked) >= FEWEST_GLITCHES else linked + others
    if len(chosen) < FEWEST_GLITCHES:
        return {}
    cold = sum(g["towards"] == "cold" for g in chosen)
    lengths = [float(g["length_ms"]) for g in chosen]
    first_min = min(g["t_ms"] for g in chosen) / 60_000
    return {
        "towards": "cold" if 2 * cold >= len(chosen) else "hot",
        "of_them": max(cold, len(chosen) - cold), "glitches": len(chosen),
        "followed_by_kick_out": len(linked), "length_ms": [min(lengths), max(lengths)],
        "median_ms": float(np.median(lengths)), "first_minute": round(first_min, 1),
    }  # fmt: skip


def put_signature(store: Store, case_id: str) -> dict[str, Any] | None:
    """Append the signature as it stands, unless it is known already; what it is."""
    found = signature_of(store, case_id)
    if not found:
        return None
    known = store.findings(case_id, "signature")
    if not known or known[-1].body != found:
        store.add_finding(case_id, "signature", found, "locum")
    return found


def signature(id: str, casebook: str | None = None) -> Document:
    """Write down by what this case can be found: direction and lengths of its glitches."""
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        found = put_signature(store, case_id)
        if found is None:
            raise Refused(
                Remark("no_signature", case_id, f"at least {FEWEST_GLITCHES} glitches of the real sensor",
                       "fewer in its recordings", "listen longer, or review the recordings again")
            )  # fmt: skip
        return Document({"case": case_id, "signature": found})


def similar(id: str, family: bool = False, casebook: str | None = None) -> Document:
    """What cases like this one turned out to be."""
    with kept_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        criteria = store.criteria_of(case_id, with_family=family)
        found = store.similar(criteria, leave_out=case_id)
        hits = [hit for hit in store.find_like(criteria, 21) if hit.id != case_id][:20]
        silent = f"fewer than {FEWEST_SIMILAR} similar cases have a cause found; shares would say nothing"  # fmt: skip
        return Document(
            {"case": case_id, "n": found.n, "without_cause": found.without_cause,
             "sentence": found.sentence or silent, "criteria": asdict(criteria),
             "causes": shares(found), "cases": [asdict(hit) for hit in hits]}
        )  # fmt: skip


def shares(found) -> list[dict[str, Any]]:
    """Causes with their exact limits; none where there are too few cases to say it."""
    if found.n < FEWEST_SIMILAR:
        return []
    return [
        {"cause": cause, "cases": count, "low": low, "high": high}
        for (cause, count), (low, high) in zip(found.causes, found.limits, strict=True)
    ]


def criteria_from(
    family: str, component: str, cause: str, towards: str | None,
    threshold: list[float] | None, length: list[float] | None, after: list[float] | None,
) -> Criteria:  # fmt: skip
    """Criteria from what was typed; a single number is both ends."""

    def span(numbers: list[float] | None) -> tuple[float, float] | None:
        return (min(numbers), max(numbers)) if numbers else None

    made = Criteria(family=family, component=component, cause=cause, towards=towards or "")
    return replace(
        made, threshold_c=span(threshold), length_ms=span(length), after_minutes=span(after)
    )


MOST_SEARCHED = 2000
"""Cases looked at where words and signature are asked for together."""


def find(
    words: list[str] | None = None,
    family: str = "",
    component: str = "",
    cause: str = "",
    towards: str | None = None,
    threshold: list[float] | None = None,
    length: list[float] | None = None,
    after: list[float] | None = None,
    casebook: str | None = None,
) -> Document:
    """Cases by words, by signature, or by both."""
    wanted = criteria_from(family, component, cause, towards, threshold, length, after)
    text = " ".join(words or ())
    if not text and wanted == Criteria():
        raise Misuse(
            Remark("nothing_to_find", "case find", "words, or a signature such as --towards cold",
                   "neither", "`locum case list` shows all cases")
        )  # fmt: skip
    with kept_casebook(casebook) as store:
        if wanted == Criteria():
            hits = store.find(text)
        elif not text:
            hits = store.find_like(wanted)
        else:
            alike = {hit.id for hit in store.find_like(wanted, MOST_SEARCHED)}
            hits = [hit for hit in store.find(text, MOST_SEARCHED) if hit.id in alike][:20]
        return Document({"cases": [asdict(hit) for hit in hits]})
