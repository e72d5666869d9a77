"""The river: time runs downwards, one row every two seconds and one for everything that happened.

The widget draws its rows itself and keeps them: taking in a look costs what is new in it, drawing costs
what is in view, however long the recording has become. A table widget would cost ten times as much.
"""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Size
from textual.strip import Strip

from locum.jobs.lines import Line
from locum.ui.widgets.inked import Inked
from locum.ui.widgets.running import (
    Column,
    Row,
    column_over,
    head_text,
    plain_line,
    put_in,
    row_text,
    rows_of,
)

__all__ = ["River", "plain_line"]
KEPT = 6000
"""Rows that can be leafed back to: some three hours. Older ones are in the casebook."""
SPARE = 500
"""So many more may gather before the oldest are dropped in one go."""
DRAWN = 400
"""Drawn rows that are kept: a few screens full."""
NARROW, WIDE = 17, 33
"""Cells of the temperature column: odd, so that it has a middle."""
WIDE_FROM = 100


class River(Inked):
    """Newest row at the bottom; leafed back with Page Up, Page Down, End or the wheel."""

    COMPONENT_CLASSES = {"river--kick", "river--event", "river--quiet", "river--stand"}

    def __init__(self, unit: str = "celsius", hidden: bool = False, **kwargs) -> None:
        super().__init__(**kwargs)
        self.unit = unit
        self._hidden = hidden
        self._rows: list[Row] = []
        self._newest: Line | None = None
        self._given: tuple[Line, ...] = ()
        self._back = 0
        self._column = Column(0.0, 100.0, NARROW)
        self._strips: dict[tuple[int, bool], Strip] = {}
        """Drawn rows of now, by the row's identity and whether it stands first."""
        self._view: list[Row] = []
        """The rows in view, oldest first."""
        self._above = 0
        """Empty rows above them."""

    # -- what it is told -------------------------------------------------------------------------

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines given last."""
        return self._given

    @lines.setter
    def lines(self, lines: tuple[Line, ...]) -> None:
        """Take in the newest lines; those that are known already cost nothing."""
        if lines is self._given or (lines and lines[-1] is self._newest):
            return
        self._given = lines
        newest = self._newest
        if newest is not None and (not lines or lines[-1].t_s < newest.t_s):
            self.clear()  # another recording
        new = []
        for line in reversed(lines):
            if self._newest is not None and line.t_s <= self._newest.t_s:
                break
            new.append(line)
        for line in reversed(new):
            made = rows_of(line, self._newest)
            for row in made:
                put_in(self._rows, row)
            self._newest = line
            self._back += len(made) if self._back else 0  # what is being read stays where it is
        if len(self._rows) > KEPT + SPARE:
            del self._rows[:-KEPT]
            self._strips.clear()  # an identity may be given again
        self._redraw()

    @property
    def hidden(self) -> bool:
        """An unseen test runs: nothing may tell which is connected."""
        return self._hidden

    @hidden.setter
    def hidden(self, hidden: bool) -> None:
        if hidden != self._hidden:
            self._hidden = hidden
            self._strips.clear()
            self._redraw()

    def clear(self) -> None:
        """Forget all rows."""
        self._rows, self._newest, self._back = [], None, 0
        self._strips.clear()

    # -- leafing back ----------------------------------------------------------------------------

    @property
    def room(self) -> int:
        """Rows that can be seen at once."""
        return max(1, self.size.height - 1)

    def leaf(self, rows: int) -> None:
        """Go back by so many rows, forward if negative; the newest is where it ends."""
        back = min(max(self._back + rows, 0), max(len(self._rows) - self.room, 0))
        if back != self._back:
            self._back = back
            self._redraw()

    def leaf_page(self, pages: int) -> None:
        """The same by what is in view."""
        self.leaf(pages * max(self.room - 2, 1))

    def to_now(self) -> None:
        """Back to the newest row."""
        self.leaf(-len(self._rows))

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        event.stop()
        self.leaf(3)

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        event.stop()
        self.leaf(-3)

    # -- drawing ---------------------------------------------------------------------------------

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return container.height

    def on_resize(self) -> None:
        self._strips.clear()
        self._redraw()

    def visible_rows(self) -> list[Row]:
        """The rows in view, oldest first."""
        end = len(self._rows) - self._back
        return self._rows[max(end - self.room, 0) : end]

    def _redraw(self) -> None:
        """Settle the column over what is in view, and have it drawn."""
        cells = WIDE if self.size.width >= WIDE_FROM else NARROW
        self._view = self.visible_rows()
        self._above = self.room - len(self._view)
        column = column_over((row.line for row in self._view), cells)
        if column != self._column or len(self._strips) > DRAWN:
            self._column = column
            self._strips.clear()
        self.refresh()

    def notify_style_update(self) -> None:
        super().notify_style_update()
        self._strips.clear()

    def render_line(self, y: int) -> Strip:
        if y == 0:
            return self._strip(self._head(), self.ink("river--quiet"))
        index = y - 1 - self._above
        if not 0 <= index < len(self._view):
            return Strip.blank(self.size.width, self.ink())
        return self._line(self._view[index], index == 0)

    def _head(self) -> str:
        if self._back:
            return f"{self._back} rows back; Page Up, Page Down leaf, End: now"
        return head_text(self.unit, self._column)

    def _line(self, row: Row, first: bool) -> Strip:
        drawn = self._strips.get((id(row), first))
        if drawn is None:
            text = row_text(row, self.unit, self._column, self._hidden, first)
            drawn = self._strips[id(row), first] = self._strip(text, self._style_of(row))
        return drawn

    def _style_of(self, row: Row) -> Style:
        if row.event is not None:
            kick = row.event.kind == "kick_out"
            return self.ink("river--kick" if kick else "river--event")
        if row.line.source != "real" and not self.hidden:
            return self.ink("river--stand")
        return self.ink()

    def _strip(self, text: str, style: Style) -> Strip:
        width = self.size.width
        return Strip([Segment(text, style)]).adjust_cell_length(width, self.ink())
