"""What belongs to a typed line or a chosen row: its text, and a sensor's curve as a sketch beside it."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Static

from locum.ui.widgets.sketch import Point, Sketch


class Below(VerticalScroll, can_focus=False):
    """Stands below the rows of a place; gone while it has nothing to show."""

    def __init__(self, unit: str = "celsius", **kwargs) -> None:
        super().__init__(**kwargs)
        self._unit = unit

    def compose(self) -> ComposeResult:
        with Horizontal(id="prepare-both"):
            yield Static("", id="prepare-look", markup=False)
            yield Sketch(self._unit, id="prepare-sketch")

    def on_mount(self) -> None:
        self.show("")

    def show(self, text: str, points: Sequence[Point] = ()) -> None:
        """This text, with the curve through these points; nothing where it is empty."""
        self.query_one("#prepare-look", Static).update(text)
        self.query_one(Sketch).show(points)
        self.display = bool(text)
