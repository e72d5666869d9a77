"""What stands on a terminal that is too small for the screens: what is connected, and the way back.

Rows that are cut are misread, so nothing else is drawn there, and only keys that are safe unseen are
taken: the way back, marks, the answer to a bell, leaving.
"""

from __future__ import annotations

from textual.geometry import Size
from textual.widgets import Static

from locum.jobs.desk import Snapshot
from locum.ui.widgets.facts import facts_of

LEAST = (80, 22)
"""Columns and rows that every screen needs; tmux and its kin take a row or two of the usual 24."""
SAFE_KEYS = (
    "space",
    "escape",
    "b",
    "m",
    "M",
    "L",
    "J",
    "j",
    "k",
    "l",
    "q",
    "f10",
    "ctrl+q",
    "ctrl+c",
)
"""Keys that are taken all the same."""


def is_cramped(size: Size) -> bool:
    """Whether a terminal of this size is too small for the screens."""
    return 0 < size.width < LEAST[0] or 0 < size.height < LEAST[1]


class Cramped(Static):
    """Covers everything else while the terminal is too small."""

    DEFAULT_CSS = """
    Cramped { layer: cramped; width: 100%; height: 100%; background: $background; }
    """

    def __init__(self, unit: str = "celsius", **kwargs) -> None:
        super().__init__("", markup=False, **kwargs)
        self.unit = unit
        self.display = False

    def show(self, snapshot: Snapshot, said: str) -> None:
        """Take in a look; drawn only while the terminal is too small."""
        size = self.app.size
        self.display = is_cramped(size)
        text = cramped_text(snapshot, said, size, self.unit) if self.display else ""
        if str(self.content) != text:
            self.update(text)


def cramped_text(snapshot: Snapshot, said: str, size: Size, unit: str) -> str:
    """What must be known in any case, the most urgent first: the rest may find no room."""
    facts = facts_of(snapshot, unit)
    connected = f"{facts.connected}: {facts.means}" if facts.means else facts.connected
    temperatures = f"told {facts.told}, true {facts.true}" if facts.standing else ""
    rows = [
        connected, said, "Space REAL SENSOR NOW   b ease back   m felt   q leave",
        f"Too small: {size.width} x {size.height}; {LEAST[0]} x {LEAST[1]} characters are needed. "
        "Make the window larger or its letters smaller. Other keys are not taken meanwhile.",
        temperatures, facts.kept[0],
    ]  # fmt: skip
    return "\n".join(row for row in rows if row)
