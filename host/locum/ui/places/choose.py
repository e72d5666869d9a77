"""Choosing one sheet of those at hand by its title; it then stands in for its name typed."""

from __future__ import annotations

from collections.abc import Callable

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding

from locum.jobs.plan_look import at_hand
from locum.ui import words
from locum.ui.places.place import Over
from locum.ui.widgets.rows import Row, Rows

NAME = 26
"""Cells for a sheet's name."""


class Choose(Over):
    """Lies over Prepare; Enter or a click takes the chosen sheet."""

    NAME = "Choose"
    OWN_KEYS = (("space", "REAL SENSOR NOW"), ("enter", "takes it"), ("up", "Down choose"),
                ("escape", "closes"))  # fmt: skip
    BINDINGS = [
        Binding("enter", "take", "take it", show=False),
        Binding("up", "choose(-1)", "the one above", show=False),
        Binding("down", "choose(1)", "the one below", show=False),
        Binding("pageup", "choose(-10)", "ten above", show=False),
        Binding("pagedown", "choose(10)", "ten below", show=False),
    ]
    DEFAULT_CSS = "#choose { height: 1fr; padding: 0 1; }"
    _done: Callable[[str], None] | None = None

    def compose_place(self) -> ComposeResult:
        yield Rows(id="choose")

    def offer(self, kind: str, done: Callable[[str], None]) -> None:
        """Offer the sheets of a kind; ``done`` is called with the chosen one's name."""
        self._done = done
        found = at_hand(kind)
        count = (
            f"{len(found)} {words.SHEET[kind]}s at hand"
            if found
            else f"no {words.SHEET[kind]} at hand"
        )
        rows = [Row(count, "loud")]
        for one in found:
            own = "   (yours)" if one.origin == "workshop" else ""
            rows.append(Row(f"{one.name:<{NAME}} {one.title}{own}", name=one.name))
        self.query_one("#choose", Rows).show_anew(rows)

    def action_choose(self, by: int) -> None:
        self.query_one("#choose", Rows).choose(by)

    @on(Rows.Taken)
    def action_take(self) -> None:
        name, done = self.query_one("#choose", Rows).chosen, self._done
        self.locum.pop_screen()
        if name and done is not None:
            done(name)
