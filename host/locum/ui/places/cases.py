"""The place where cases are found, opened, added to, and their pages written."""

from __future__ import annotations

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input, Static

from locum.errors import LocumError
from locum.jobs import cases_view
from locum.jobs.case_pages import export
from locum.jobs.cases_view import CaseRow, DriveRow
from locum.ui.cases_text import case_line, drive_line, look_text
from locum.ui.messages import Looked
from locum.ui.places.place import Place
from locum.ui.widgets.rows import Row, Rows

HINTS = {
    "find": "words to find; Enter",
    "new": "title of the new case; Enter",
    "note": "a note for the case in use; Enter",
    "found": "the defect that was seen, where; Enter",
    "repair": "what was repaired: one thing; Enter",
}
RESTING = "n new case   / find   a note   f defect   p repaired   o pages   x export"
"""Stands in the line while nothing is typed there: not every key finds room in the lowest row."""
UNFILED = "unfiled "


class CasesPlace(Place):
    """Place 4 of 4."""

    NAME = "Cases"
    NEXT = "1 Prepare"
    HELP = """\
/                 find: symptom, vehicle, part, cause
Up, Down          choose; Home, End: the first, the last
Enter             use the chosen case: Evidence weighs it, recordings go into it;
                  a recording that is filed nowhere: file it under the case in use
Page Up, Page Down  leaf in the case in use
n                 a new case: its title is the typed line
a                 add a note
f                 a defect was found: what was seen
p                 it was repaired: from now on recordings are of the repaired car
o                 write both pages of the case, for the workshop and the customer
x                 export the case as plain files
"""
    BINDINGS = [
        Binding("enter", "take", "use it", show=True, tooltip="use the chosen case, or file there"),
        Binding("n", "ask('new')", "new case", show=True, tooltip="begin a new case"),
        Binding("slash", "ask('find')", "find", show=True, tooltip="find a case by words"),
        Binding("o", "pages", "pages", show=True, tooltip="write both pages of the case"),
        Binding("f", "ask('found')", "defect", show=True, tooltip="a defect was found"),
        Binding("p", "ask('repair')", "repaired", show=True, tooltip="it was repaired"),
        Binding("x", "export", "export", show=True, tooltip="export the case as plain files"),
        Binding("a", "ask('note')", "add a note to the case", show=False),
        Binding("up", "choose(-1)", "the case above", show=False),
        Binding("down", "choose(1)", "the case below", show=False),
        Binding("pageup", "leaf(-8)", "leaf back in the case in use", show=False),
        Binding("pagedown", "leaf(8)", "leaf on in the case in use", show=False),
        Binding("home", "choose(-9999)", "the first of the cases", show=False),
        Binding("end", "choose(9999)", "the last of the cases", show=False),
    ]
    OF_A_CASE = ("pages", "export", "ask('found')", "ask('repair')")
    DEFAULT_CSS = """
    #case-look { height: auto; max-height: 11; padding: 0 1; border-top: solid $primary; }
    """
    asking = "find"
    FIRST_KEYS = ("space", "b", "enter", "o", "n")

    def compose_place(self) -> ComposeResult:
        yield Static("", id="cases-told", markup=False)
        yield Rows(id="cases")
        yield Rows("Page Down", "Page Up", id="case-look")
        yield Input(placeholder=RESTING, id="case-words")

    def on_screen_resume(self) -> None:
        self.find("")

    def useless_keys(self, message: Looked) -> tuple[str, ...]:
        """Without a case in use there is nothing to write down or to write out."""
        useless = super().useless_keys(message)
        if not self.query_one("#cases", Rows).chosen:
            useless = (*useless, "take")
        return useless if self.locum.case_id else (*useless, *self.OF_A_CASE)

    @work(thread=True, exclusive=True, group="look")
    def find(self, text: str, told: str = "") -> None:
        book, case_id = self.locum.casebook, self.locum.case_id
        running = self.desk.snapshot().drive_id
        try:
            rows = cases_view.case_rows(text, book)
            loose = [] if text else cases_view.unfiled_rows(book)
            look = look_text(cases_view.look_into(case_id, book), running) if case_id else ""
        except LocumError as error:
            self.app.call_from_thread(self._tell, str(error))
            return
        self.app.call_from_thread(self.show, rows, loose, look, text, told)

    def show(
        self, rows: list[CaseRow], loose: list[DriveRow], look: str, text: str, told: str
    ) -> None:
        now = self.desk.snapshot().drive_id
        made = [Row(case_line(row, row.id == self.locum.case_id), name=row.id) for row in rows]
        made += [
            Row(f"filed nowhere: {drive_line(row)}", name=UNFILED + row.id)
            for row in loose
            if row.id != now
        ]
        self.query_one("#cases", Rows).show(made)
        under = self.query_one("#case-look", Rows)
        under.show_text(look)
        under.display = bool(look)
        what = f"found by '{text}'" if text else "in the casebook"
        count = "1 case" if len(rows) == 1 else f"{len(rows)} cases"
        use = "" if self.locum.case_id else " None is in use: Enter on one, or n for a new one."
        self._tell(told or f"{count} {what}.{use}")

    def _tell(self, text: str) -> None:
        self.query_one("#cases-told", Static).update(text)

    def action_ask(self, what: str) -> None:
        if what not in ("find", "new") and not self.locum.case_id:
            self._tell("No case is in use yet: Enter on one, or n for a new one.")
            return
        self.asking = what
        line = self.query_one("#case-words", Input)
        line.placeholder = HINTS[what]
        line.focus()

    @on(Input.Blurred, "#case-words")
    def left_line(self, event: Input.Blurred) -> None:
        event.input.placeholder = RESTING

    @on(Input.Submitted, "#case-words")
    def typed(self, event: Input.Submitted) -> None:
        text, event.input.value = event.value.strip(), ""
        self.set_focus(None)
        if self.asking == "find":
            self.find(text)
        elif text:
            self.add(self.asking, text)

    @work(thread=True, exclusive=True, group="add")
    def add(self, what: str, text: str) -> None:
        book, case_id = self.locum.casebook, self.locum.case_id
        try:
            if what == "new":
                self.locum.use_case(cases_view.begin_case(text, book))
            elif what == "file" and case_id:
                cases_view.file_recording(case_id, text, book)
            elif case_id:
                cases_view.add_finding(case_id, what, text, book)
        except LocumError as error:
            self.app.call_from_thread(self._tell, str(error))
            return
        self.app.call_from_thread(self._settled)

    def _settled(self) -> None:
        """Once the desk has heard of the case, show it."""
        self.set_timer(0.3, lambda: self.find(""))

    def action_choose(self, by: int) -> None:
        self.query_one("#cases", Rows).choose(by)

    def action_leaf(self, rows: int) -> None:
        self.query_one("#case-look", Rows).leaf(rows)

    @on(Rows.Taken)
    def action_take(self) -> None:
        chosen = self.query_one("#cases", Rows).chosen
        if chosen.startswith(UNFILED):
            if self.locum.case_id:
                self.add("file", chosen.removeprefix(UNFILED))
            else:
                self._tell("No case is in use yet: n for a new one, then file it there.")
        elif chosen:
            self.locum.use_case(chosen)
            self._settled()

    def action_pages(self) -> None:
        self._write("pages")

    def action_export(self) -> None:
        self._write("whole")

    def _write(self, what: str) -> None:
        if not self.locum.case_id:
            self._tell("No case is in use yet: Enter on one.")
            return
        self._tell("writing ...")
        self.write(self.locum.case_id, what)

    @work(thread=True, exclusive=True, group="write")
    def write(self, case_id: str, what: str) -> None:
        try:
            if what == "whole":
                done = export(case_id, out=self.locum.export_folder(), casebook=self.locum.casebook)
                told = f"Exported to {done.body['out']}"
            else:
                first = cases_view.write_pages(case_id, casebook=self.locum.casebook)[0]
                told = f"Both pages written to {first.rpartition('/')[0]}"
        except LocumError as error:
            told = str(error)
        self.app.call_from_thread(self._tell, told)
