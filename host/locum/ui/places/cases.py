"""The place where cases are found, opened, added to, and their pages written."""

from __future__ import annotations

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from locum.errors import LocumError
from locum.jobs import cases_view
from locum.jobs.case_pages import export
from locum.jobs.cases_view import CaseRow, DriveRow
from locum.ui.cases_text import case_line, drive_line, look_text
from locum.ui.places.place import Place
from locum.ui.widgets.hanging import Hanging

HINTS = {
    "find": "words to find; Enter",
    "new": "title of the new case; Enter",
    "note": "a note for the case in use; Enter",
    "found": "the defect that was seen, where; Enter",
    "repair": "what was repaired: one thing; Enter",
}
UNFILED = "unfiled "


class CasesPlace(Place):
    """Place 4 of 4."""

    NAME = "Cases"
    NEXT = "1 Prepare"
    HELP = """\
/                 find: symptom, vehicle, part, cause
Up, Down, Enter   use a case: Evidence weighs it, recordings go into it;
                  on a recording that is filed nowhere: file it under that case
n                 a new case: its title is the typed line
a                 add a note
f                 a defect was found: what was seen
p                 it was repaired: from now on recordings are of the repaired car
o                 write both pages of the case, for the workshop and the customer
x                 export the case as plain files
"""
    BINDINGS = [
        Binding("slash", "ask('find')", "find a case by words", show=True),
        Binding("n", "ask('new')", "new case", show=True),
        Binding("a", "ask('note')", "add a note to the case", show=False),
        Binding("f", "ask('found')", "a defect was found", show=True),
        Binding("p", "ask('repair')", "it was repaired", show=True),
        Binding("o", "pages", "write the pages", show=True),
        Binding("x", "export", "export as plain files", show=True),
    ]
    DEFAULT_CSS = """
    #case-look { height: auto; max-height: 9; padding: 0 1; }
    """
    asking = "find"

    def compose_place(self) -> ComposeResult:
        yield Static("", id="cases-told", markup=False)
        yield OptionList(id="cases", markup=False)
        yield Hanging("", id="case-look", markup=False)
        yield Input(placeholder=HINTS["find"], id="case-words")

    def on_screen_resume(self) -> None:
        self.find("")
        self.query_one("#cases").focus()

    @work(thread=True, exclusive=True, group="look")
    def find(self, text: str, told: str = "") -> None:
        book, case_id = self.locum.casebook, self.locum.case_id
        try:
            rows = cases_view.case_rows(text, book)
            loose = [] if text else cases_view.unfiled_rows(book)
            look = look_text(cases_view.look_into(case_id, book)) if case_id else ""
        except LocumError as error:
            self.app.call_from_thread(self._tell, str(error))
            return
        self.app.call_from_thread(self.show, rows, loose, look, text, told)

    def show(
        self, rows: list[CaseRow], loose: list[DriveRow], look: str, text: str, told: str
    ) -> None:
        found = self.query_one("#cases", OptionList)
        at = found.highlighted
        before = None if at is None else found.get_option_at_index(at).id
        found.clear_options()
        for row in rows:
            found.add_option(Option(case_line(row, row.id == self.locum.case_id), id=row.id))
        now = self.desk.snapshot().drive_id
        for row in loose:
            if row.id != now:
                found.add_option(Option(f"  filed nowhere: {drive_line(row)}", id=UNFILED + row.id))
        if found.option_count:
            names = [option.id for option in found.options]
            found.highlighted = names.index(before) if before in names else 0
        self.query_one("#case-look", Static).update(look)
        what = f"found by '{text}'" if text else "in the casebook"
        count = "1 case" if len(rows) == 1 else f"{len(rows)} cases"
        use = (
            " * is the one in use."
            if self.locum.case_id
            else " None is in use: Enter on one, or n."
        )
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

    @on(Input.Submitted, "#case-words")
    def typed(self, event: Input.Submitted) -> None:
        text, event.input.value = event.value.strip(), ""
        self.query_one("#cases").focus()
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

    @on(OptionList.OptionSelected, "#cases")
    def chosen(self, event: OptionList.OptionSelected) -> None:
        chosen = event.option.id or ""
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
