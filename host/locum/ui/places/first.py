"""The guided first start: answers stand one below the other, the next question under them."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Input, Static

from locum.errors import LocumError
from locum.jobs.desk import Asked
from locum.jobs.first_start import FirstStart, is_virtual
from locum.ui.places.place import Place


class FirstPlace(Place):
    """Not one of the four: the way in for whoever comes for the first time."""

    NAME = "First start"
    NEXT = "a value held"
    HELP = """\
Five answers at most, then the value is held; no form, no case: the recording
is filed later. Nothing is connected before the last answer. Each answer is
one line and Enter; what was understood is shown above the next question.

Escape            leave the typed line; then 1 2 3 4 lead elsewhere
Enter             type again
u                 begin again from the first question
"""
    BINDINGS = [
        Binding("enter", "type", "type the answer", show=True),
        Binding("u", "again", "begin the guided start again", show=False),
    ]
    DEFAULT_CSS = """
    #first { height: 1fr; padding: 0 1; }
    #first-lines, #first-told, #first-help { height: auto; }
    #first-asked { height: auto; padding: 1 0 0 0; text-style: bold; }
    #first-told { padding: 1 0 0 0; text-style: bold; }
    #first-line { height: 1; border: none; padding: 0 1; }
    """
    start: FirstStart | None = None

    def compose_place(self) -> ComposeResult:
        with VerticalScroll(id="first"):
            yield Static("", id="first-lines", markup=False)
            yield Static("", id="first-asked", markup=False)
            yield Static("", id="first-help", markup=False)
            yield Static("", id="first-told", markup=False)
        yield Input(id="first-line")

    def on_screen_resume(self) -> None:
        if self.start is None or self.start.done:
            self.action_again()
        self.action_type()

    def action_type(self) -> None:
        self.query_one("#first-line", Input).focus()

    def action_again(self) -> None:
        virtual = is_virtual(self.desk.setup, self.settings)
        self.start = FirstStart(self.desk.setup, self.settings.unit, virtual)
        self.show()

    def show(self, fault: str = "") -> None:
        start = self.start
        if start is None or start.done:
            return
        head = "No board is plugged in: this is the virtual one, in an invented van. Nothing can break.\n"
        lines = [f"{n}  {a.name:<9} {a.understood}" for n, a in enumerate(start.answers, 1)]
        question = start.question
        self._set("lines", (head if start.virtual else "") + "\n".join(lines))
        self._set("asked", f"{start.number} of {start.total}   {question.asked}")
        self._set("help", question.help)
        self._set("told", fault)
        line = self.query_one("#first-line", Input)
        line.placeholder = f"Enter alone: {question.enter}" if question.enter else "type y"

    def _set(self, name: str, text: str) -> None:
        widget = self.query_one(f"#first-{name}", Static)
        widget.update(text)
        widget.display = bool(text)

    @on(Input.Submitted, "#first-line")
    def typed(self, event: Input.Submitted) -> None:
        line, event.input.value = event.value, ""
        if self.start is None:
            return
        try:
            self.start.answer(line)
        except LocumError as error:
            self.show(str(error))
            return
        if self.start.done:
            self._go()
        else:
            self.show()

    def _go(self) -> None:
        start = self.start
        if start is None:
            return
        self.set_focus(None)
        self.locum.switch_screen("drive")
        if not start.listening:
            self.locum.reopen(start.setup(), Asked("hold", (start.hold,), start.hold))
