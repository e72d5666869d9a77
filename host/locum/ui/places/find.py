"""All that can be done, in sentences, place by place; words typed leave those that have them."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input

from locum.ui.actions import EVERYWHERE, Doable
from locum.ui.places.place import Over
from locum.ui.widgets.rows import Row, Rows

KEY = 16
"""Cells for what is pressed or typed."""


class Find(Over):
    """Opened from any place; what is done is done where it belongs."""

    NAME = "All that can be done"
    BINDINGS = [
        Binding("up", "choose(-1)", "the row above", show=False),
        Binding("down", "choose(1)", "the row below", show=False),
        Binding("pageup", "choose(-15)", "a page above", show=False),
        Binding("pagedown", "choose(15)", "a page below", show=False),
    ]
    OWN_KEYS = (("enter", "does it"), ("up", "Down choose"), ("escape", "closes, then Space: REAL SENSOR NOW"))  # fmt: skip
    _all: tuple[Doable, ...] = ()

    def compose_place(self) -> ComposeResult:
        yield Rows(id="doable")
        yield Input(placeholder="words of what you want to do", id="wanted")

    def offer(self, doable: tuple[Doable, ...], here: str) -> None:
        """Show everything, what belongs to the place one came from first."""
        order = {here: 0, EVERYWHERE: 1}
        self._all = tuple(sorted(doable, key=lambda one: order.get(one.where, 2)))
        wanted = self.query_one("#wanted", Input)
        wanted.value = ""
        wanted.focus()
        self.list("")

    def list(self, wanted: str) -> None:
        found = [(str(n), one) for n, one in enumerate(self._all) if one.has(wanted)]
        count = f"{len(found)} things" if len(found) != 1 else "1 thing"
        rows = [Row(f"{self.NAME}: {count}" + (f" with '{wanted}'" if wanted else ""), "loud")]
        where = ""
        for name, one in found:
            if one.where != where:
                where = one.where
                rows.append(Row(where, "head"))
            rows.append(Row(f"{one.key:<{KEY}}{one.words}", name=name))
        if not found:
            rows.append(Row("Nothing has all these words. Fewer of them, or the beginning of one."))
        self.query_one(Rows).show_anew(rows)

    @on(Input.Changed, "#wanted")
    def changed(self, event: Input.Changed) -> None:
        self.list(event.value)

    @on(Input.Submitted, "#wanted")
    @on(Rows.Taken)
    def take(self) -> None:
        name = self.query_one(Rows).chosen
        if name:
            self.locum.pop_screen()
            self._all[int(name)].do()

    def action_choose(self, by: int) -> None:
        self.query_one(Rows).choose(by)
