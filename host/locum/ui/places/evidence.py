"""The place where it is weighed: how far the evidence reaches, what is missing, what to drive next."""

from __future__ import annotations

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Static

from locum.errors import LocumError
from locum.jobs.evidence_view import EvidenceView, look_at_case
from locum.ui.evidence_text import RUNNING, TEXTS, next_text
from locum.ui.places.place import Place
from locum.ui.widgets.hanging import Hanging


class EvidencePlace(Place):
    """Place 3 of 4."""

    NAME = "Evidence"
    NEXT = "4 Cases"
    HELP = """\
How far the evidence of the case reaches, step by step: possible, coincident,
sufficient, necessary, reversible, found, cured. A step that is not reached
says what is missing.

t                 the exact tests behind the odds, with their inputs
s                 suspects: what speaks for and against each
w                 kick-outs and glitches beside each other in time
n                 start the next drive that would tell most
r                 weigh again
"""
    BINDINGS = [
        Binding("n", "next_drive", "start the next drive", show=True),
        Binding("t", "tests", "exact tests", show=True),
        Binding("s", "suspects", "suspects", show=True),
        Binding("w", "moments", "kick-outs and glitches in time", show=True),
        Binding("r", "weigh", "weigh again", show=True),
    ]
    view: EvidenceView | None = None
    shown = "steps"

    def compose_place(self) -> ComposeResult:
        yield Static("", id="verdict", markup=False)
        with VerticalScroll(id="evidence"):
            yield Hanging("", id="rows", markup=False)
        yield Static("", id="next", markup=False)

    def on_screen_resume(self) -> None:
        self.action_weigh()

    def action_weigh(self) -> None:
        if not self.locum.case_id:
            self._tell("No case chosen yet. 4 Cases: choose one, or n there for a new one.")
            return
        self._tell("weighing ...")
        self.weigh(self.locum.case_id)

    @work(thread=True, exclusive=True)
    def weigh(self, case_id: str) -> None:
        try:
            view = look_at_case(case_id, self.locum.casebook)
        except LocumError as error:
            self.app.call_from_thread(self._tell, str(error))
            return
        self.app.call_from_thread(self.show, view)

    def show(self, view: EvidenceView) -> None:
        self.view = view
        now = self.desk.snapshot()
        runs = now.phase == "recording" and now.case_id == view.case_id
        self._tell(f"{view.sentence} {RUNNING}" if runs else view.sentence)
        self.query_one("#next", Static).update(next_text(view))
        self.query_one("#rows", Static).update(self.rows_text())

    def _tell(self, text: str) -> None:
        self.query_one("#verdict", Static).update(text)

    def rows_text(self) -> str:
        """The rows of what is chosen, as text."""
        if self.view is None:
            return ""
        return TEXTS[self.shown](self.view)

    def _choose(self, what: str) -> None:
        self.shown = "steps" if self.shown == what else what
        self.query_one("#rows", Static).update(self.rows_text())

    def action_tests(self) -> None:
        self._choose("tests")

    def action_suspects(self) -> None:
        self._choose("suspects")

    def action_moments(self) -> None:
        self._choose("moments")

    def action_next_drive(self) -> None:
        if self.view is not None:
            self.locum.start_next_drive(self.view)
