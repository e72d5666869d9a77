"""Questions one at a time: what was understood so far, the question under it, and the line to answer in.

``back`` typed alone takes the last answer back. A refusal says what was found, and leaves every earlier
answer as it was.
"""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.message import Message
from textual.widgets import Input, Static

from locum.errors import LocumError
from locum.jobs.questions import BACK, Dialogue
from locum.ui.asked_text import answers_text, asked_text, enter_text
from locum.ui.widgets.hanging import Hanging


class Asked(Vertical):
    """One dialogue at a time."""

    DEFAULT_CSS = """
    Asked { height: 1fr; }
    #asked { height: 1fr; padding: 0 1; }
    #asked-before, #asked-told, #asked-help, #asked-question, #asked-after { height: auto; }
    #asked-question { padding: 1 0 0 0; text-style: bold; }
    #asked-told { padding: 1 0 0 0; text-style: bold; }
    #asked-after { padding: 1 0 0 0; }
    #asked-line { height: 1; border: none; padding: 0 1; background: $surface; }
    """

    class Taken(Message):
        """An answer was taken, or one was taken back."""

    dialogue: Dialogue | None = None
    needed = "type the answer"
    """What the empty line says where Enter alone means nothing."""
    head = ""

    def compose(self) -> ComposeResult:
        with VerticalScroll(id="asked"):
            yield Hanging("", id="asked-before", markup=False)
            yield Static("", id="asked-question", markup=False)
            yield Static("", id="asked-help", markup=False)
            yield Static("", id="asked-told", markup=False)
            yield Static("", id="asked-after", markup=False)
        yield Input(id="asked-line")

    def begin(self, dialogue: Dialogue, head: str = "") -> None:
        """Ask these questions; those answered already stay answered."""
        self.dialogue, self.head = dialogue, head
        self.show()

    def type(self) -> None:
        """Let an answer be typed, while there is a question."""
        if self.dialogue is not None and not self.dialogue.done:
            self.query_one(Input).focus()

    def show(self, fault: str = "", after: str = "") -> None:
        """Draw it anew, with a refusal or with what follows from the answers."""
        dialogue = self.dialogue
        if dialogue is None:
            return
        parts = [self.head, answers_text(dialogue)]
        self._set("before", "\n".join(part for part in parts if part))
        self._set("question", "" if dialogue.done else asked_text(dialogue))
        self._set("help", "" if dialogue.done else dialogue.question.help)
        self._set("told", fault)
        self._set("after", after)
        line = self.query_one(Input)
        line.display = not dialogue.done
        line.placeholder = "" if dialogue.done else enter_text(dialogue, self.needed)
        shown = "#asked-told" if fault else "#asked-help" if not dialogue.done else "#asked-after"
        self.call_after_refresh(self.query_one(shown).scroll_visible, animate=False)

    def _set(self, name: str, text: str) -> None:
        widget = self.query_one(f"#asked-{name}", Static)
        widget.update(text)
        widget.display = bool(text)

    def back(self) -> None:
        """Take the last answer back."""
        if self.dialogue is not None and self.dialogue.back():
            self.post_message(self.Taken())

    @on(Input.Submitted)
    def typed(self, event: Input.Submitted) -> None:
        event.stop()
        dialogue, line = self.dialogue, event.value.strip()
        event.input.value = ""  # Enter alone always means what the empty line says
        if dialogue is None or dialogue.done:
            return
        if line.lower() == BACK:
            self.back()
            return
        try:
            dialogue.answer(line)
        except LocumError as error:
            self.show(str(error))
            return
        self.post_message(self.Taken())
