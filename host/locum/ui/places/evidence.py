"""The place where it is weighed: how far the evidence reaches, what is missing, what to drive next."""

from __future__ import annotations

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.widgets import Input, Static

from locum.errors import LocumError
from locum.jobs.capture_kept import keep_glitch, suggested
from locum.jobs.capturing import CaptureResult
from locum.jobs.evidence_view import EvidenceView, MomentRow, look_at_case
from locum.jobs.next_drive import starts
from locum.ui.evidence_text import RUNNING, TEXTS, next_text
from locum.ui.messages import Looked
from locum.ui.places.place import Place
from locum.ui.widgets.beside import Beside
from locum.ui.widgets.rows import Rows

WIDE = 112
"""Columns from which on the moments stand beside the rest."""


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
w                 kick-outs and glitches beside each other in time; on a wide
                  screen they stand there anyway
Up, Down          choose one of these moments, else leaf in the rows
Enter             keep the chosen glitch as a profile, to be given again in
                  Drive; without a choice the longest of the case
n                 start the next drive that would tell most
r                 weigh again
Page Up, Page Down  leaf in the rows by fifteen
"""
    BINDINGS = [
        Binding("enter", "keep", "keep glitch", show=True, tooltip="keep a glitch, to be given again"),
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
    DEFAULT_CSS = """
    #weighed { height: 1fr; }
    #weighed Rows { width: 1fr; height: 1fr; padding: 0 1; }
    #weighed #beside.wide { width: 64; border-left: solid $primary; }
    #glitch-name { height: 1; border: none; padding: 0 1; background: $surface; }
    """
    FIRST_KEYS = ("space", "b", "n", "w")
    OF_A_CASE = ("tests", "suspects", "moments", "weigh", "keep")
    view: EvidenceView | None = None
    shown = "steps"
    _keeping: tuple[str, int] = ("", 0)

    def compose_place(self) -> ComposeResult:
        yield Static("", id="case-title", markup=False)
        yield Static("", id="verdict", markup=False)
        with Horizontal(id="weighed"):
            yield Rows(id="rows")
            yield Beside(id="beside")
        yield Static("", id="next", markup=False)
        yield Input(id="glitch-name")

    def on_mount(self) -> None:
        self.query_one("#glitch-name").display = False
        self._draw()

    def on_screen_resume(self) -> None:
        self.query_one("#glitch-name").display = False
        self.action_weigh()

    def on_resize(self) -> None:
        self._draw()

    @property
    def wide(self) -> bool:
        """Whether the moments have room beside everything else."""
        return self.app.size.width >= WIDE

    def useless_keys(self, message: Looked) -> tuple[str, ...]:
        """Without a case there is nothing to weigh, and not everything that is next is a drive."""
        useless = super().useless_keys(message)
        if self.view is None:
            return (*useless, *self.OF_A_CASE, "next_drive")
        useless = (*useless, "moments") if self.wide else useless
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
        """What is chosen, and the moments beside it or instead of it."""
        alone = self.shown == "moments" and not self.wide
        rows, beside = self.query_one("#rows", Rows), self.query_one(Beside)
        rows.display, beside.display = not alone, alone or (self.wide and self.view is not None)
        beside.set_class(self.wide, "wide")
        rows.show_text(self.rows_text())
        beside.show_case(self.view)

    def _tell(self, text: str) -> None:
        self.tell("verdict", text)

    def rows_text(self) -> str:
        """The rows of what is chosen, as text."""
        if self.view is None:
            return ""
        shown = "steps" if self.shown == "moments" and self.wide else self.shown
        return TEXTS[shown](self.view)

    def _choose(self, what: str) -> None:
        self.shown = "steps" if self.shown == what else what
        self._draw()

    def action_leaf(self, rows: int) -> None:
        """By one: to another moment where they are in view; by more: in the rows."""
        beside = self.query_one(Beside)
        if beside.display and beside.moment is not None and (abs(rows) == 1 or not self.wide):
            beside.choose(rows)
        else:
            self.query_one("#rows" if self.wide or not beside.display else "#beside", Rows).leaf(
                rows
            )

    def action_tests(self) -> None:
        self._choose("tests")

    def action_suspects(self) -> None:
        self._choose("suspects")

    def action_moments(self) -> None:
        self._choose("moments")

    # -- keeping a glitch ------------------------------------------------------------------------

    def action_keep(self) -> None:
        """Ask for a name for the chosen glitch, or the longest; Enter alone takes the one offered."""
        if not self.locum.case_id:
            self._tell("No case chosen yet, so there is no glitch to keep. 4 Cases: choose one.")
            return
        beside = self.query_one(Beside)
        moment = beside.moment if beside.display else None
        self.suggest(self.locum.case_id, moment)

    @work(thread=True, exclusive=True, group="keep")
    def suggest(self, case_id: str, moment: MomentRow | None) -> None:
        chosen = (moment.drive_id, moment.number) if moment else ("", 0)
        try:
            found = suggested(case_id, *chosen, self.locum.casebook)
        except LocumError as error:
            self.app.call_from_thread(self._tell, str(error))
            return
        self.app.call_from_thread(self._ask_name, *found)

    def _ask_name(self, drive_id: str, number: int, name: str) -> None:
        self._keeping = (drive_id, number)
        line = self.query_one("#glitch-name", Input)
        line.display, line.value = True, name
        line.focus()
        line.cursor_position = len(name)
        self._tell("Keep this glitch as a profile of this name? Enter: yes. Another name: type it.")

    @on(Input.Submitted, "#glitch-name")
    def named(self, event: Input.Submitted) -> None:
        name, event.input.value = event.value.strip(), ""
        event.input.display = False
        self.set_focus(None)
        if name:
            self.keep(*self._keeping, name)

    @on(Input.Blurred, "#glitch-name")
    def left(self, event: Input.Blurred) -> None:
        """Escape leaves the line: nothing is kept."""
        event.input.display = False
        if self.view is not None:
            self._tell(self.view.sentence)

    @work(thread=True, exclusive=True, group="keep")
    def keep(self, drive_id: str, number: int, name: str) -> None:
        try:
            made = keep_glitch(drive_id, number, name, self.locum.casebook)
        except LocumError as error:
            self.app.call_from_thread(self._tell, str(error))
            return
        self.app.call_from_thread(self._kept, made)

    def _kept(self, made: CaptureResult) -> None:
        self.desk.show(captured=made.out)
        self._tell(
            f"Kept as {made.out}: {made.length_ms:.0f} ms towards {made.towards}. "
            "2 Drive, x: give it to the module, blanks between."
        )

    def action_next_drive(self) -> None:
        if self.view is None:
            self._tell("No case chosen yet, so no drive is asked for. 4 Cases: choose one.")
        else:
            self.locum.start_next_drive(self.view)
