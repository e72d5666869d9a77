"""Help of the place one is on; Escape, ? or Enter leaves it."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from locum.ui.messages import Looked
from locum.ui.widgets.lintel import Lintel

EVERYWHERE = """
Everywhere
1 2 3 4           Prepare, Drive, Evidence, Cases
Space             real sensor now, here too; not while a line is typed:
                  there Esc first, then Space
g                 guided start: five answers to a value held
Ctrl+P            find any action by its name
q                 leave; asks only while the stand-in is connected
"""


class Help(ModalScreen[None]):
    BINDINGS = [
        Binding("escape,question_mark,enter,q", "leave", "leave the explanation", show=False)
    ]

    def __init__(self, title: str, text: str, unit: str = "celsius") -> None:
        super().__init__()
        self._title, self._text, self._unit = title, text, unit

    def compose(self) -> ComposeResult:
        yield Lintel(self._unit)
        with VerticalScroll(id="help"):
            yield Static(f"{self._title}\n{EVERYWHERE}\n{self._text}", markup=False)
        yield Static(
            "Esc or ? closes   Down: more   Space: REAL SENSOR NOW", id="help-keys", markup=False
        )

    def on_looked(self, message: Looked) -> None:
        self.query_one(Lintel).show(message.snapshot)

    def action_leave(self) -> None:
        self.dismiss()
