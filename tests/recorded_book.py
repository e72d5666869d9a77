"""Casebooks with time on the virtual road in them, recorded once a run and copied to whoever asks."""

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
def _recorded(folder: str, minutes: int) -> Path:
    """The van of seed 1 has its first glitch after 31 minutes, and a kick-out just after it."""
    book = Path(folder) / f"recorded_{minutes}.sqlite"
    case = cases_view.begin_case(TITLE, str(book))
    listen(**VAN, minutes=minutes, board="virtual", seed=1, case=case, casebook=str(book))
    return book


def copy_of_recorded(book: str | Path, folder: str, minutes: int = 32) -> tuple[str, str]:
    """A copy of it at ``book``; (case, recording)."""
    shutil.copy(_recorded(folder, minutes), book)
    with Store.open(Path(book)) as store:
        (case,) = store.cases()
        return case.id, store.drives(case.id)[0].id
