"""The place where it is weighed: how far the evidence reaches, what is missing, what to drive next."""

from __future__ import annotations

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from locum.errors import LocumError
from locum.jobs.evidence_view import EvidenceView, look_at_case
from locum.jobs.next_drive import starts
from locum.ui.evidence_text import RUNNING, TEXTS, next_text
from locum.ui.messages import Looked
from locum.ui.places.place import Place
from locum.ui.widgets.rows import Rows


class EvidencePlace(Place):
    """Place 3 of 4."""

    NAME = "Evidence"
    NEXT = "4 Cases"
    HELP = """\
How far the evidence of the case reaches, step by step: possible, coincident,
sufficient, necessary, reversible, found, cured. A step that is not reached yet
says what is missing.

t                 the exact tests behind the odds, with their inputs
s                 suspects: what speaks for and against each
w                 kick-outs and glitches beside each other in time
n                 start the next drive that would tell most
r                 weigh again
Up, Down          leaf in the rows; Page Up, Page Down: by fifteen
"""
    BINDINGS = [
        Binding("n", "next_drive", "next drive", show=True, tooltip="start the next drive"),
        Binding("s", "suspects", "suspects", show=True,
                tooltip="suspects: what speaks for and against each"),
        Binding("w", "moments", "in time", show=True, tooltip="kick-outs and glitches in time"),
        Binding("t", "tests", "tests", show=True, tooltip="the exact tests behind the odds"),
        Binding("r", "weigh", "weigh again", show=True),
        Binding("down", "leaf(1)", "one row on in the evidence", show=False),
        Binding("up", "leaf(-1)", "one row back in the evidence", show=False),
        Binding("pagedown", "leaf(15)", "fifteen rows on in the evidence", show=False),
        Binding("pageup", "leaf(-15)", "fifteen rows back in the evidence", show=False),
    ]  # fmt: skip
    OF_A_CASE = ("tests", "suspects", "moments", "weigh")
    view: EvidenceView | None = None
    shown = "steps"

    def compose_place(self) -> ComposeResult:
        yield Static("", id="case-title", markup=False)
        yield Static("", id="verdict", markup=False)
        yield Rows(id="rows")
        yield Static("", id="next", markup=False)

    def on_screen_resume(self) -> None:
        self.action_weigh()

    def useless_keys(self, message: Looked) -> tuple[str, ...]:
        """Without a case there is nothing to weigh, and not everything that is next is a drive."""
        useless = super().useless_keys(message)
        if self.view is None:
            return (*useless, *self.OF_A_CASE, "next_drive")
        return useless if starts(self.view) else (*useless, "next_drive")

    def action_weigh(self) -> None:
        if not self.locum.case_id:
            self._tell("No case chosen yet. 4 Cases: choose one, or n there for a new one.")
            self._clear()
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
        self.tell("case-title", f"Case: {view.title}")
        self.tell("next", next_text(view))
        self._draw()

    def _clear(self) -> None:
        self.view = None
        self.tell("case-title", "")
        self.tell("next", "")
        self._draw()

    def _draw(self) -> None:
        self.query_one(Rows).show_text(self.rows_text())

    def _tell(self, text: str) -> None:
        self.tell("verdict", text)

    def rows_text(self) -> str:
        """The rows of what is chosen, as text."""
        if self.view is None:
            return ""
        return TEXTS[self.shown](self.view)

    def _choose(self, what: str) -> None:
        self.shown = "steps" if self.shown == what else what
        self._draw()

    def action_leaf(self, rows: int) -> None:
        self.query_one(Rows).leaf(rows)

    def action_tests(self) -> None:
        self._choose("tests")

    def action_suspects(self) -> None:
        self._choose("suspects")

    def action_moments(self) -> None:
        self._choose("moments")

    def action_next_drive(self) -> None:
        if self.view is None:
            self._tell("No case chosen yet, so no drive is asked for. 4 Cases: choose one.")
        else:
            self.locum.start_next_drive(self.view)
