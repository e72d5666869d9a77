"""The river: time runs downwards, one line every two seconds.

A narrow column shows told and true temperature as marks between two ends that follow the recent
values; kick-outs and glitches stand where they happened. The widget draws strips itself: a table
widget would cost ten times as much.
"""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Size
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from locum.jobs.lines import Line
from locum.ui import words

COLUMN = 21
"""Cells of the temperature column: odd, so that it has a middle."""
HEAD = "    time   told   true  "
NIGHT_KEEP = 400


class River(Widget):
    """Newest line at the bottom."""

    COMPONENT_CLASSES = {"river--kick", "river--glitch", "river--dim", "river--stand"}
    lines: reactive[tuple[Line, ...]] = reactive((), layout=False)

    def __init__(self, unit: str = "celsius", hidden: bool = False, **kwargs) -> None:
        super().__init__(**kwargs)
        self.unit = unit
        self.hidden = hidden

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return container.height

    def ends_c(self) -> tuple[float, float]:
        """Cold and hot end of the temperature column, over the lines in view. [degC]"""
        rows = self.visible_lines()
        seen = [v for row in rows for v in (row.told_c, row.true_c) if v is not None]
        if not seen:
            return 0.0, 100.0
        low, high = min(seen), max(seen)
        middle, half = (low + high) / 2, max((high - low) / 2 * 1.15, 5.0)
        return middle - half, middle + half

    def visible_lines(self) -> tuple[Line, ...]:
        return self.lines[-max(1, self.size.height - 1) :]

    def render_line(self, y: int) -> Strip:
        if y == 0:
            return self._head()
        rows = self.visible_lines()
        index = y - 1 - max(0, self.size.height - 1 - len(rows))
        if not 0 <= index < len(rows):
            return Strip.blank(self.size.width)
        return self._line(rows[index])

    def _head(self) -> Strip:
        low, high = self.ends_c()
        left = words.degrees(low, self.unit, 0)
        right = words.degrees(high, self.unit, 0)
        middle = f"{left:<{COLUMN // 2}}{right:>{COLUMN - COLUMN // 2}}"
        text = f"{HEAD}{middle}  what happened, commanded"
        return Strip(
            [Segment(text[: self.size.width], self._style("river--dim"))]
        ).adjust_cell_length(self.size.width)

    def _style(self, name: str) -> Style:
        return self.get_component_rich_style(name)

    def marks(self, line: Line) -> str:
        """The temperature column of one line: ``o`` true, ``+`` told, ``*`` both in one cell."""
        low, high = self.ends_c()
        cells = [" "] * COLUMN
        for value, sign in ((line.true_c, "o"), (line.told_c, "+")):
            if value is None:
                continue
            at = round((value - low) / (high - low) * (COLUMN - 1))
            at = min(max(at, 0), COLUMN - 1)
            cells[at] = sign if cells[at] == " " else "*"
        return "".join(cells)

    def text_of(self, line: Line) -> str:
        """The line as plain text, the same that ``--plain`` prints."""
        return plain_line(line, self.unit, self.marks(line), self.hidden)

    def _line(self, line: Line) -> Strip:
        kinds = {event.kind for event in line.events}
        style = Style()
        if "kick_out" in kinds:
            style = self._style("river--kick")
        elif "glitch" in kinds or "injected" in kinds:
            style = self._style("river--glitch")
        elif line.source != "real" and not self.hidden:
            style = self._style("river--stand")
        text = self.text_of(line)[: self.size.width]
        return Strip([Segment(text, style)]).adjust_cell_length(self.size.width)


def plain_line(line: Line, unit: str, marks: str = "", hidden: bool = False) -> str:
    """One running line in words. While an unseen test runs told and source are left out."""
    told = "--" if hidden else words.degrees(line.told_c, unit).rsplit(" ", 1)[0]
    true = "--" if hidden else words.degrees(line.true_c, unit).rsplit(" ", 1)[0]
    marks = " " * len(marks) if hidden else marks
    what = "; ".join(words.event_words(e.kind, e.words, e.detail) for e in line.events)
    source = "" if hidden else {"real": " ", "stand_in": "S", "moving": "~"}[line.source]
    head = f"{words.clock(line.t_s):>8} {told:>6} {true:>6} {source:1} {marks}"
    # What happened comes first: at 80 columns the end of a line is cut.
    return f"{head}  {what}   {line.commanded}" if what else f"{head}  {line.commanded}"
