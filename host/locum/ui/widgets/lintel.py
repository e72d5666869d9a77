"""The lintel: over every place but Drive, what is connected, whether it is recorded, what happened last.

Two rows, so that nobody must go to another place to know whether the module is being deceived.
"""

from __future__ import annotations

from rich.segment import Segment
from textual.geometry import Size
from textual.strip import Strip
from textual.widget import Widget

from locum.jobs.desk import Snapshot
from locum.ui import words
from locum.ui.widgets.facts import Facts, facts_of


class Lintel(Widget):
    """The glance in two rows."""

    COMPONENT_CLASSES = {"glance--value", "glance--stand", "glance--text", "glance--caption"}

    def __init__(self, unit: str = "celsius", **kwargs) -> None:
        super().__init__(**kwargs)
        self.unit = unit
        self.facts: Facts | None = None

    def show(self, snapshot: Snapshot) -> None:
        facts = facts_of(snapshot, self.unit)
        if facts != self.facts:
            before, self.facts = self.facts, facts
            width = self.size.width
            if before is None or rows(before, width) != rows(facts, width):
                self.refresh()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return 2

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        if self.facts is None or y > 1:
            return Strip.blank(width, self.rich_style)
        first, second = rows(self.facts, width)
        name = "stand" if y == 0 and self.facts.standing else ("text", "caption")[y]
        text = (first, second)[y].ljust(width)
        return Strip([Segment(text, self.get_component_rich_style(f"glance--{name}"))]).adjust_cell_length(width)  # fmt: skip


def rows(facts: Facts, width: int = 78) -> tuple[str, str]:
    """Both rows as text; told and true only where they differ, and nothing that would be cut."""
    joint = " connected; " if facts.connected == words.SOURCE["real"] else ": "
    first = f"{facts.connected}{joint}{facts.means}" if facts.means else facts.connected
    if facts.standing:
        blind = facts.means.partition(";")[0]
        told = f"{facts.connected}: told {facts.told}, true {facts.true}"
        first = f"{told}; {blind}"
        if len(first) > width:
            first = f"{told}; {blind.removeprefix('careful: ')}"
    return first, second_row(facts, width)


def second_row(facts: Facts, width: int) -> str:
    """Whether it is recorded, what happened last, and the kick-outs so far where there is room."""
    last = f"last: {facts.last}" if facts.last else ""
    kicks = "" if facts.kicks == "none yet" else f"kick-outs: {facts.kicks}"
    for kept in (facts.record, *facts.kept):
        for parts in ((kept, last, kicks), (kept, last)):
            row = "; ".join(part for part in parts if part)
            if len(row) <= width:
                return row
    return f"{facts.kept[-1]}; {last}"[:width]
