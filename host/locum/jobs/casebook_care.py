"""Care of the casebook's file: looked through, copied, saved from damage, joined with another."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

from locum.casebook import check as whole
from locum.casebook.records import CheckLine
from locum.casebook.rescue import rescue as save_readable
from locum.errors import FileTrouble
from locum.jobs.cases import Document, casebook_file, no_casebook, open_casebook
from locum.jobs.files import is_there


def check(casebook: str | None = None) -> Document:
    """Look through the file without changing or migrating it; exit 1 if anything is not whole."""
    path = casebook_file(casebook)
    lines = whole.check_file(path)
    passed = all(line.passed for line in lines)
    remedy = "" if passed else (
        "what can be read is saved by `locum case rescue FILE --out NEW`; this file stays as it is"
    )  # fmt: skip
    return _checked(lines, {"casebook": str(path), "ok": passed, "remedy": remedy}, passed)


def rescue(damaged: str, out: str) -> Document:
    """Copy everything readable of a damaged casebook into a new file; exit 1 if some was lost."""
    lines = save_readable(Path(damaged), Path(out))
    passed = all(line.passed for line in lines)
    return _checked(lines, {"out": str(Path(out).resolve()), "ok": passed}, passed)


def _checked(lines: list[CheckLine], body: dict, passed: bool) -> Document:
    return Document({**body, "checks": [asdict(line) for line in lines]}, 0 if passed else 1)


def backup(out: str, casebook: str | None = None) -> Document:
    if casebook and not is_there(casebook):
        raise FileTrouble(no_casebook(casebook))
    with open_casebook(casebook) as store:
        return Document({"backup": str(store.backup(Path(out)).resolve())})


def merge(other: str, identity: bool = False, casebook: str | None = None) -> Document:
    """Bring everything of another casebook into this one; the other is only read."""
    from locum.casebook.merge import merge as bring

    with open_casebook(casebook) as store:
        arrived = bring(store, Path(other), with_identity=identity)
        return Document(
            {"cases": list(arrived.cases), "new_rows": arrived.new_rows, "unfiled": arrived.unfiled}
        )
