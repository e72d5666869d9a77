"""The glance: what must be readable at arm's length, one fact a row, large where there is room.

Two layouts of the same facts. In the small one (80x24) every fact has a row. In the large one what is
connected, told, true and commanded stand in large letters, with the same words small beside them: a
capture of the screen as text reads the same as the screen. The widget draws rows itself and asks for
a redraw of those rows only that have changed.
"""

from __future__ import annotations

from rich.segment import Segment
from textual.geometry import Region, Size
from textual.strip import Strip

from locum.jobs.desk import Snapshot
from locum.ui.looks.letters import known, large, rows_high
from locum.ui.looks.looks import LARGE, looks_of
from locum.ui.widgets.facts import Facts, facts_of
from locum.ui.widgets.inked import Inked

CAPTION = 11
"""Cells of the captions at the left."""
TOLD_AT, TRUE_AT = 66, 93
"""Where the large figures begin."""
SMALL_TRUE_AT = 24
SMALL_ROWS = 8

Piece = tuple[str, str]
"""Text and the name of its style: caption, value, stand or text."""
Line = tuple[Piece, ...]


class Glimpse(Inked):
    """Connected, told, true, commanded, kick-outs, what was last, time, record, and what to do next."""

    COMPONENT_CLASSES = {"glance--caption", "glance--value", "glance--stand", "glance--text"}

    def __init__(self, unit: str = "celsius", **kwargs) -> None:
        super().__init__(**kwargs)
        self.unit = unit
        self.facts: Facts | None = None
        self._lines: tuple[Line, ...] = ()

    @property
    def is_large(self) -> bool:
        """Whether there is room for large letters."""
        size = self.app.size
        return size.width >= LARGE[0] and size.height >= LARGE[1]

    def show(self, snapshot: Snapshot) -> None:
        """Take in a look; rows that stay as they were cost nothing more."""
        facts = facts_of(snapshot, self.unit)
        if facts != self.facts:
            self.facts = facts
            self._settle()

    def on_resize(self) -> None:
        self._lines = ()
        self._settle()

    def _settle(self) -> None:
        if self.facts is None:
            return
        width = self.size.width
        glyphs = looks_of(self.app).glyphs
        made = large_lines(self.facts, glyphs, width) if self.is_large else small_lines(self.facts)
        before, self._lines = self._lines, made
        if len(before) != len(made):
            self.refresh()
            return
        for y, (old, new) in enumerate(zip(before, made, strict=True)):
            if old != new:
                self.refresh(Region(0, y, width, 1))

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        if not self.is_large:
            return SMALL_ROWS
        return 2 * rows_high(looks_of(self.app).glyphs) + SMALL_ROWS

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        if y >= len(self._lines):
            return Strip.blank(width, self.ink())
        pieces = [Segment(text, self.ink(f"glance--{style}")) for text, style in self._lines[y]]
        return Strip(pieces).adjust_cell_length(width, self.ink())


def small_lines(facts: Facts) -> tuple[Line, ...]:
    """One fact a row; what is connected is reversed from edge to edge while it is the stand-in."""
    return (
        _connected(facts),
        _row("told", facts.told.ljust(SMALL_TRUE_AT - CAPTION), f"true {facts.true}", facts.apart),
        *_tail(facts, commanded=True),
    )


def large_lines(facts: Facts, glyphs, width: int) -> tuple[Line, ...]:
    """What is connected, told, true and commanded in large letters, everything else a row each."""
    style = "stand" if facts.standing else "value"
    first = f"{'connected':<{CAPTION}}{facts.connected}"
    top: list[Line] = [(
        (first.ljust(TOLD_AT - 2), style if facts.standing else "text"), ("  ", "text"),
        (f"told {facts.told}".ljust(TRUE_AT - TOLD_AT), "text"), (f"true {facts.true}", "text"),
    )]  # fmt: skip
    name = _large_name(facts.connected, glyphs)
    told, true = (large(_figures(t), glyphs) for t in (facts.told, facts.true))
    for word, left, right in zip(name, told, true, strict=True):
        top.append(((word.ljust(TOLD_AT - 2), style), ("  ", "text"),
                    (left.ljust(TRUE_AT - TOLD_AT), "value"), (right, "value")))  # fmt: skip
    top.append(((facts.means.ljust(TOLD_AT - 2), style), ("  ", "text"), (facts.apart, "text")))
    return (*top, _row("commanded", facts.commanded), *_large_commanded(facts, glyphs, width),
            *_tail(facts, commanded=False))  # fmt: skip


def _large_name(said: str, glyphs) -> tuple[str, ...]:
    """What is connected in large letters, nothing where it would not fit."""
    drawn = large(said, glyphs)
    return drawn if known(said) and len(drawn[0]) <= TOLD_AT - 2 else ("",) * rows_high(glyphs)


def _large_commanded(facts: Facts, glyphs, width: int) -> list[Line]:
    high = rows_high(glyphs)
    said = facts.commanded
    drawn = large(said, glyphs) if known(said) else ("",) * high
    if not said or len(drawn[0]) > width or not drawn[0].strip():
        return [()] * high
    return [((row, "value"),) for row in drawn]


def _figures(degrees: str) -> str:
    """The number of a temperature; its unit stands small above it."""
    return degrees.partition(" ")[0]


def _connected(facts: Facts) -> Line:
    said = f"{'connected':<{CAPTION}}{facts.connected:<13}{facts.means}"
    if facts.standing:
        return ((said.ljust(200), "stand"),)
    return (
        ("connected".ljust(CAPTION), "caption"), (f"{facts.connected:<13}", "value"),
        (facts.means, "text"),
    )  # fmt: skip


def _tail(facts: Facts, commanded: bool) -> list[Line]:
    rows = [_row("commanded", facts.commanded)] if commanded else []
    return [
        *rows,
        _row("kick-outs", facts.kicks),
        _row("last", "", facts.last),
        _row("time", "", facts.time),
        _row("record", "", facts.record),
        _row("next", "", facts.next),
    ]


def _row(caption: str, value: str, text: str = "", more: str = "") -> Line:
    """A caption, what stands out, and what follows it."""
    pieces: list[Piece] = [(caption.ljust(CAPTION), "caption")]
    if value:
        pieces.append((value, "value"))
    if text:
        pieces.append((text.ljust(14), "value" if caption == "told" else "text"))
    if more:
        pieces.append((more, "text"))
    return tuple(pieces)
