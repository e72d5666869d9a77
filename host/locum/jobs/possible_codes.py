"""Codes that a test may have set in the module: kept with the case, to be cleared at hand-back."""

from __future__ import annotations

from locum.casebook.store import Store
from locum.jobs.cases import author_of

KIND = "codes_possible"
USUAL = ("the circuit's low and high codes",)
"""Where the module's sheet names none."""


def names_of(codes: tuple[str, ...]) -> list[str]:
    return list(codes or USUAL)


def keep(store: Store, case_id: str, drive: str, codes: tuple[str, ...], why: str) -> str:
    """Write them into the case."""
    names = names_of(codes)
    words = f"Codes possibly set by {why}: {', '.join(names)}. Read and clear them at hand-back."
    body = {"codes": names, "drive": drive, "why": why, "words": words}
    return store.add_finding(case_id, KIND, body, author_of(""))


def possible_codes(store: Store, case_id: str) -> list[str]:
    """All that the case's tests may have set."""
    return sorted({code for f in store.findings(case_id, KIND) for code in f.body["codes"]})
