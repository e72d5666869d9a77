"""The place where cases are found, opened, and their pages written."""

from __future__ import annotations

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from locum.errors import LocumError
from locum.jobs.cases import export, new
from locum.jobs.evidence_view import CaseRow, case_rows, write_pages
from locum.ui.places.place import Place


class CasesPlace(Place):
    """Place 4 of 4."""

    NAME = "Cases"
    NEXT = "1 Prepare"
    HELP = """\
Enter             type words: symptom, vehicle, part, cause
Up, Down, Enter   choose a case; Evidence then weighs it and Drive records into it
n                 a new case: its title is the typed line
o                 write both pages of the chosen case
x                 export the chosen case as plain files beside the pages
"""
    BINDINGS = [
        Binding("slash", "words", "find", show=True),
        Binding("n", "new_case", "new case", show=True),
        Binding("o", "pages", "write pages", show=True),
        Binding("x", "export", "export", show=True),
    ]
    asking = "find"

    def compose_place(self) -> ComposeResult:
        yield Static("", id="cases-told")
        yield OptionList(id="cases")
        yield Input(placeholder="words to find; Enter", id="case-words")

    def on_screen_resume(self) -> None:
        self.find("")
        self.query_one("#cases").focus()

    @work(thread=True, exclusive=True)
    def find(self, text: str) -> None:
        try:
            rows = case_rows(text, self.locum.casebook)
        except LocumError as error:
            self.app.call_from_thread(self._tell, str(error))
            return
        self.app.call_from_thread(self.show, rows, text)

    def show(self, rows: list[CaseRow], text: str) -> None:
        found = self.query_one("#cases", OptionList)
        found.clear_options()
        for row in rows:
            chosen = "*" if row.id == self.locum.case_id else " "
            tail = f"   {row.snippet}" if row.snippet else ""
            line = f"{chosen} {row.opened}  {row.title}  ({row.drives} recordings){tail}"
            found.add_option(Option(line.replace("[", "\\["), id=row.id))
        if rows:
            found.highlighted = 0
        what = f"found by '{text}'" if text else "in the casebook"
        self._tell(f"{len(rows)} cases {what}. * is the one in use.")

    def _tell(self, text: str) -> None:
        self.query_one("#cases-told", Static).update(text)

    def action_words(self) -> None:
        self.asking = "find"
        self._ask("words to find; Enter")

    def action_new_case(self) -> None:
        self.asking = "new"
        self._ask("title of the new case; Enter")

    def _ask(self, hint: str) -> None:
        line = self.query_one("#case-words", Input)
        line.placeholder = hint
        line.focus()

    @on(Input.Submitted, "#case-words")
    def typed(self, event: Input.Submitted) -> None:
        text, event.input.value = event.value.strip(), ""
        self.query_one("#cases").focus()
        if self.asking == "new" and text:
            made = new(text, casebook=self.locum.casebook)
            self.locum.use_case(made.body["id"])
            self.find("")
        else:
            self.find(text)

    @on(OptionList.OptionSelected, "#cases")
    def chosen(self, event: OptionList.OptionSelected) -> None:
        if event.option.id:
            self.locum.use_case(event.option.id)
            self.find("")

    def action_pages(self) -> None:
        if self.locum.case_id:
            self._tell("writing ...")
            self.write(self.locum.case_id, False)

    def action_export(self) -> None:
        if self.locum.case_id:
            self._tell("writing ...")
            self.write(self.locum.case_id, True)

    @work(thread=True, exclusive=True)
    def write(self, case_id: str, whole: bool) -> None:
        try:
            if whole:
                done = export(case_id, out=self.locum.export_folder(), casebook=self.locum.casebook)
                told = f"Exported to {done.body['out']}"
            else:
                first = write_pages(case_id, casebook=self.locum.casebook)[0]
                told = f"Both pages written to {first.rpartition('/')[0]}"
        except LocumError as error:
            told = str(error)
        self.app.call_from_thread(self._tell, told)
