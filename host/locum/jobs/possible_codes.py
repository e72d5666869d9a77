"""Codes that a test may have set in the module: kept with the case, to be cleared at hand-back."""

from __future__ import annotations

from locum.casebook.store import Store
from locum.planning.judge import CONFIRM_S
from locum.review.findings import Findings

KIND = "codes_possible"
USUAL = ("the circuit's low and high codes",)
"""Where the module's sheet names none."""


def names_of(codes: tuple[str, ...]) -> list[str]:
    return list(codes or USUAL)


def keep(store: Store, case_id: str, drive: str, codes: tuple[str, ...], why: str) -> str:
    """Write them into the case."""
    from locum.jobs.cases import author_of

    names = names_of(codes)
    words = f"Codes possibly set by {why}: {', '.join(names)}. Read and clear them at hand-back."
    body = {"codes": names, "drive": drive, "why": why, "words": words}
    return store.add_finding(case_id, KIND, body, author_of(""))


def keep_given(store: Store, drive_id: str, found: Findings, codes: tuple[str, ...]) -> str:
    """Write down what opens and shorts of a recording may have set, whoever gave them.

    Empty if the recording belongs to no case, or none was as long as a module needs to be sure.
    """
    case_id = store.drive(drive_id).case_id
    long_enough = [i for i in found.injections
                   if i.kind in ("open", "short") and i.length_ms >= 1000 * CONFIRM_S]  # fmt: skip
    if case_id is None or not long_enough:
        return ""
    longest_s = max(i.length_ms for i in long_enough) / 1000
    why = f"{len(long_enough)} opens or shorts given, the longest of {longest_s:g} s"
    if len(long_enough) == 1:
        why = f"one open or short given, of {longest_s:g} s"
    return keep(store, case_id, drive_id, codes, why)


def possible_codes(store: Store, case_id: str) -> list[str]:
    """All that the case's tests may have set."""
    return sorted({code for f in store.findings(case_id, KIND) for code in f.body["codes"]})
