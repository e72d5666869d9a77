"""A casebook with half an hour on the road in it: one kick-out just after a glitch of the real sensor."""

from __future__ import annotations

import shutil
from functools import cache
from pathlib import Path

from locum.casebook.store import Store
from locum.jobs import cases_view
from locum.jobs.verbs import listen

TITLE = "Van in rain"
VAN = {"sensor": "parcel_van_coolant", "module": "parcel_van_engine", "vehicle": "parcel_van"}


@cache
def _recorded(folder: str) -> Path:
    """Recorded once a run; the van of seed 1 has its first glitch after 31 minutes."""
    book = Path(folder) / "recorded.sqlite"
    case = cases_view.begin_case(TITLE, str(book))
    listen(**VAN, minutes=32, board="virtual", seed=1, case=case, casebook=str(book))
    return book


def copy_of_recorded(book: str | Path, folder: str) -> tuple[str, str]:
    """A copy of it at ``book``; (case, recording)."""
    shutil.copy(_recorded(folder), book)
    with Store.open(Path(book)) as store:
        (case,) = store.cases()
        return case.id, store.drives(case.id)[0].id
