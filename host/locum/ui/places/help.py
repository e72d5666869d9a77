"""Help of the place one is on; Escape, ? or Enter leaves it."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

EVERYWHERE = """
Everywhere
1 2 3 4           Prepare, Drive, Evidence, Cases
Space             real sensor now (Escape too, outside help and typed lines)
g                 guided start: five answers to a value held
Ctrl+P            find any action by its name
q                 leave; asks only while the stand-in is connected
"""


class Help(ModalScreen[None]):
    BINDINGS = [
        Binding("escape,question_mark,enter,q", "leave", "leave the explanation", show=False)
    ]

    def __init__(self, title: str, text: str) -> None:
        super().__init__()
        self._title, self._text = title, text

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="help"):
            yield Static(f"{self._title}\n{EVERYWHERE}\n{self._text}", markup=False)

    def action_leave(self) -> None:
        self.dismiss()
