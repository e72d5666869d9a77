"""Rows of text that may be more than there is room for: leafed by keys or wheel, one of them chosen.

Three things are said in words, so that a copy of the screen as text says them too: which row Enter is
for (``Enter`` stands before it), how many rows are below what is in view, and how many above. The widget
draws its rows itself: showing two hundred costs what twenty cost.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.segment import Segment
from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.strip import Strip

from locum.ui.widgets.hanging import hung
from locum.ui.widgets.inked import Inked

MARK = "Enter  "
"""Stands before the chosen row; the others are blank there."""


@dataclass(frozen=True)
class Row:
    """One row, wrapped where it is too long."""

    text: str
    style: str = "text"
    """head, text or loud."""
    name: str = ""
    """What it is chosen by; a row without a name cannot be chosen."""


Drawn = tuple[str, str, int]
"""Text, style and the number of the row it is a part of."""


class Rows(Inked, can_focus=False):
    """Rows from the top; the place they belong to binds the keys."""

    COMPONENT_CLASSES = {"rows--head", "rows--text", "rows--loud", "rows--chosen", "rows--more"}

    class Taken(Message):
        """A row was clicked; it is the chosen one now."""

    def __init__(
        self, onward: str = "Down", back: str = "Up", at_once: bool = True, **kwargs
    ) -> None:
        """``at_once``: False leaves every row unchosen until somebody chooses one."""
        super().__init__(**kwargs)
        self._at_once = at_once
        self._onward, self._back = onward, back
        self.rows: tuple[Row, ...] = ()
        self.chosen = ""
        """Name of the chosen row."""
        self._top = 0
        self._drawn: list[Drawn] = []

    # -- what it is told -------------------------------------------------------------------------

    def show(self, rows: Sequence[Row], chosen: str = "") -> None:
        """Other rows; what was chosen stays chosen, else ``chosen``, else the first that can be."""
        names = [row.name for row in rows if row.name]
        first = names[:1] if self._at_once else []
        wanted = next((n for n in (self.chosen, chosen, *first) if n in names), "")
        if (tuple(rows), wanted) != (self.rows, self.chosen):
            self.rows, self.chosen = tuple(rows), wanted
            self._settle()
            self.refresh(layout=self.styles.is_auto_height)

    def show_anew(self, rows: Sequence[Row]) -> None:
        """Other rows from their top, the first one chosen that can be."""
        self.rows, self.chosen, self._top = (), "", 0
        self.show(rows)

    def show_text(self, text: str) -> None:
        """Plain rows, none of them to be chosen."""
        self.show([Row(line) for line in text.split("\n")] if text else [])

    def choose(self, by: int) -> None:
        """The row so many further down is the chosen one; where none can be, leaf by so many."""
        names = [row.name for row in self.rows if row.name]
        if not names:
            self.leaf(by)
            return
        if self.chosen in names:
            at = min(max(names.index(self.chosen) + by, 0), len(names) - 1)
        else:
            at = 0 if by > 0 else len(names) - 1
        self.pick(names[at])

    def pick(self, name: str) -> None:
        """The row of that name is the chosen one; none where the name is empty."""
        self.chosen = name
        names = [row.name for row in self.rows if row.name]
        self._settle(at_head=name in names[:1])

    def choose_page(self, pages: int) -> None:
        self.choose(pages * max(self._room - 2, 1))

    def leaf(self, by: int) -> None:
        """Look so many rows further down."""
        top = min(max(self._top + by, 0), max(len(self._drawn) - self._room, 0))
        if top != self._top:
            self._top = top
            self.refresh()

    # -- drawing ---------------------------------------------------------------------------------

    @property
    def _room(self) -> int:
        high = self.size.height
        return high if len(self._drawn) <= high else max(high - 1, 1)

    def _settle(self, at_head: bool = False) -> None:
        """Break the rows anew, and keep the chosen one in view."""
        width = self.size.width
        if width <= 0:
            return
        self._drawn = self._broken(width)
        at = [y for y, drawn in enumerate(self._drawn) if self.rows[drawn[2]].name == self.chosen]
        if at_head:
            self._top = 0
        elif self.chosen and at:
            self._top = min(max(self._top, at[-1] - self._room + 1), at[0])
        self._top = min(self._top, max(len(self._drawn) - self._room, 0))
        self.refresh()

    def _broken(self, width: int) -> list[Drawn]:
        margin = len(MARK) if any(row.name for row in self.rows) else 0
        return [d for n, row in enumerate(self.rows) for d in self._parts(n, row, width, margin)]

    def _parts(self, number: int, row: Row, width: int, margin: int) -> list[Drawn]:
        chosen = bool(row.name) and row.name == self.chosen
        style = "chosen" if chosen else row.style
        margin = margin if row.name else 0
        made = []
        for part in hung(row.text, width - margin).split("\n"):
            begin = MARK if chosen and not made else " " * margin
            made.append((begin + part, style, number))
        return made

    def on_resize(self) -> None:
        self._settle()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return len(self._broken(width))

    def more(self) -> str:
        """What is not in view, in words; empty where everything is."""
        below = len(self._drawn) - self._top - self._room
        parts = [f"{below} more below: {self._onward}" if below > 0 else "",
                 f"{self._top} above: {self._back}" if self._top else ""]  # fmt: skip
        return "   ".join(part for part in parts if part)

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        if y >= self._room and y == self.size.height - 1:
            return self._strip(self.more(), "more", width)
        at = self._top + y
        if at >= len(self._drawn) or y >= self._room:
            return Strip.blank(width, self.ink())
        text, style, _ = self._drawn[at]
        return self._strip(text.ljust(width) if style == "chosen" else text, style, width)

    def _strip(self, text: str, style: str, width: int) -> Strip:
        piece = Segment(text, self.ink(f"rows--{style}"))
        return Strip([piece]).adjust_cell_length(width, self.ink())

    # -- the mouse -------------------------------------------------------------------------------

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        event.stop()
        self.leaf(3)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        event.stop()
        self.leaf(-3)

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        at = self._top + offset.y if offset is not None and offset.y < self._room else -1
        if not 0 <= at < len(self._drawn):
            return
        row = self.rows[self._drawn[at][2]]
        if row.name:
            self.chosen = row.name
            self._settle()
            self.post_message(self.Taken())
