"""Keeping a glitch line by line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from locum.jobs.capture_kept import keep_glitch, suggested

if TYPE_CHECKING:
    from locum.ui.plain import Plain


def keep(plain: Plain, name: str) -> str:
    """The longest glitch of the case in use as a profile, under the name given or one that is free."""
    book = plain.desk.casebook
    drive_id, number, free = suggested(plain.the_case(), casebook=book)
    made = keep_glitch(drive_id, number, name or free, book)
    plain.desk.show(captured=made.out)
    return (
        f"kept as {made.out}: {made.length_ms:.0f} ms towards {made.towards}. "
        f"glitch {made.out}: give it to the module, blanks between"
    )
