"""A glitch of the real sensor kept as a profile of the workshop's own, to be given again by its name.

What ``locum capture`` writes to a file, for the screens: one glitch of a case, the longest where none
is chosen, under a name that is not taken yet.
"""

from __future__ import annotations

import re
from dataclasses import replace

from locum.casebook.store import Store
from locum.errors import Refused, Remark
from locum.jobs.capturing import CaptureResult, capture_from, kept_glitches
from locum.jobs.cases import author_of, open_casebook
from locum.locations import workshop_sheets
from locum.sheets.lookup import KINDS, sheet_names

NAME = re.compile(r"[a-z][a-z0-9_-]{0,40}")
"""What a name may look like: it is typed with one hand, and a number would be taken for a length."""


KIND = "glitch_kept"
"""Kind of the finding that says so in the case's book."""


def newest_kept(store: Store, case_id: str | None) -> str:
    """Name of the glitch of this case that was kept last and is still there; empty for none."""
    names = [f.body["name"] for f in store.findings(case_id, KIND)] if case_id else []
    there = sheet_names("profile") if names else {}
    return next((name for name in reversed(names) if name in there), "")


def _note(store: Store, made: CaptureResult, drive_id: str, name: str) -> None:
    """Into the book of the case, where another sitting finds it; a recording may belong to none."""
    case_id = store.drive(drive_id).case_id
    if case_id is not None:
        words = f"{made.length_ms:.0f} ms towards {made.towards}, kept as {name}"
        body = {"name": name, "drive": drive_id, "words": words}
        store.add_finding(case_id, KIND, body, author_of(""))


def longest_glitch(store: Store, case_id: str) -> tuple[str, int] | None:
    """(recording, number) of the case's longest glitch whose sides are both on record."""
    found = [
        ((glitch.kind != "step", glitch.length_ms), drive.id, number)
        for drive in store.drives(case_id)
        if store.reviews(drive.id)
        for number, glitch in enumerate(kept_glitches(store, drive.id), 1)
    ]
    return max(found)[1:] if found else None


def free_name(drive_id: str, number: int) -> str:
    """A name for that glitch that no profile has yet."""
    stem = f"glitch-{drive_id[-6:].lower()}-{number}"
    taken = sheet_names("profile")
    later = (f"{stem}-{n}" for n in range(2, 1000))
    return next(name for name in (stem, *later) if name not in taken)


def suggested(
    case_id: str, drive_id: str = "", number: int = 0, casebook: str | None = None
) -> tuple[str, int, str]:
    """(recording, number, name) of the glitch that would be kept; Refused where the case has none."""
    with open_casebook(casebook) as store:
        chosen = (drive_id, number) if number else longest_glitch(store, case_id)
    if chosen is None:
        raise Refused(Remark("no_glitch", "", "a glitch of the real sensor in this case", "none",
                             "record while it happens; a recording counts once it is closed"))  # fmt: skip
    return (*chosen, free_name(*chosen))


def keep_glitch(
    drive_id: str, number: int, name: str, casebook: str | None = None
) -> CaptureResult:
    """Write the glitch as a profile of the workshop under that name; its ``out`` is the name.

    Raises Refused for a name that is taken or cannot be typed, or where the record does not hold
    the glitch.
    """
    name = name.strip().lower().replace(" ", "-")
    if not NAME.fullmatch(name):
        raise Refused(Remark("name", "", "a name such as rain-1: a letter, then letters, figures, - _",
                             f"'{name}'", "type another"))  # fmt: skip
    if name in sheet_names("profile"):
        raise Refused(Remark("name_taken", "", "a new name", f"'{name}', which a profile has already",
                             "type another"))  # fmt: skip
    folder = workshop_sheets() / KINDS["profile"][1]
    folder.mkdir(parents=True, exist_ok=True)
    with open_casebook(casebook) as store:
        made = capture_from(store, drive_id, number, str(folder / f"{name}.csv"))
        _note(store, made, drive_id, name)
    return replace(made, out=name)
