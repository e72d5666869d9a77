"""What stands on every screen, told in lines when somebody asks for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from locum.ui import words
from locum.ui.plain_instead import in_lines
from locum.ui.widgets.facts import facts_of

if TYPE_CHECKING:
    from locum.ui.plain import Plain


def status(plain: Plain, _rest: str) -> str:
    return status_text(plain.desk.snapshot(), plain.unit)


def status_text(snapshot, unit: str) -> str:
    """The glance as sentences, one fact a line."""
    facts = facts_of(snapshot, unit)
    told = [("connected", facts.connected), ("means", facts.means), ("told", facts.told),
            ("true", facts.true), ("commanded", facts.commanded), ("kick-outs", facts.kicks),
            ("last", facts.last), ("time", facts.time), ("record", facts.record),
            ("next", facts.next)]  # fmt: skip
    lines = [f"{name}: {in_lines(text)}" for name, text in told if text]
    lines += [
        f"type {o.name} to hold {words.degrees(o.celsius, unit, 0)}, {o.why}"
        for o in snapshot.offers
    ]
    return "\n".join(lines)
