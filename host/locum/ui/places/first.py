"""The guided first start: answers stand one below the other, the next question under them."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding

from locum.jobs.desk import Asked as Act
from locum.jobs.first_start import FirstStart, is_virtual
from locum.ui.places.place import Place
from locum.ui.widgets.asked import Asked

VIRTUAL = (
    "No board is plugged in: this is the virtual one, in an invented van. Nothing can break.\n"
)


class FirstPlace(Place):
    """Not one of the four: the way in for whoever comes for the first time."""

    NAME = "First start"
    NEXT = "a value held"
    HELP = """\
Five answers at most, then the value is held; no form, no case: the recording
is filed later. Nothing is connected before the last answer. Each answer is
one line and Enter; what was understood is shown above the next question.
back as an answer takes the last one back.

Escape            leave the typed line; then 1 2 3 4 lead elsewhere
Enter             type again
u                 begin again from the first question
"""
    BINDINGS = [
        Binding("enter", "type", "type the answer", show=True),
        Binding("u", "again", "begin the guided start again", show=False),
    ]
    start: FirstStart | None = None

    def compose_place(self) -> ComposeResult:
        yield Asked()

    @property
    def asked(self) -> Asked:
        return self.query_one(Asked)

    def on_screen_resume(self) -> None:
        if self.start is None or self.start.done:
            self.action_again()
        self.action_type()

    def action_type(self) -> None:
        self.asked.type()

    def action_again(self) -> None:
        virtual = is_virtual(self.desk.setup, self.settings)
        self.start = FirstStart(self.desk.setup, self.settings.unit, virtual)
        self.asked.needed = "type y"
        self.asked.begin(self.start, VIRTUAL if virtual else "")

    @on(Asked.Taken)
    def taken(self) -> None:
        start = self.start
        if start is None:
            return
        if not start.done:
            self.asked.show()
            return
        self.set_focus(None)
        self.locum.switch_screen("drive")
        if not start.listening:
            self.locum.reopen(start.setup(), Act("hold", (start.hold,), start.hold_words))
