"""The place where it is weighed: how far the evidence reaches, what is missing, what to drive next."""

from __future__ import annotations

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.widgets import Static

from locum.errors import LocumError
from locum.jobs.evidence_view import EvidenceView, look_at_case
from locum.ui import words
from locum.ui.places.place import Place


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
        Binding("t", "tests", "tests", show=True),
        Binding("s", "suspects", "suspects", show=True),
        Binding("w", "moments", "in time", show=True),
        Binding("n", "next_drive", "next drive", show=True),
        Binding("r", "weigh", "weigh again", show=True),
    ]
    view: EvidenceView | None = None
    shown = "steps"

    def compose_place(self) -> ComposeResult:
        yield Static("", id="verdict")
        with VerticalScroll(id="evidence"):
            yield Static("", id="rows", markup=False)
        yield Static("", id="next")

    def on_screen_resume(self) -> None:
        self.action_weigh()

    def action_weigh(self) -> None:
        if not self.locum.case_id:
            self._tell("No case chosen yet. Press 4 and choose one, or record into one.")
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
        self._tell(view.sentence)
        self.query_one("#next", Static).update(
            f"Next: {view.next_words}" if view.next_words else ""
        )
        self.query_one("#rows", Static).update(self.rows_text())

    def _tell(self, text: str) -> None:
        self.query_one("#verdict", Static).update(text)

    def rows_text(self) -> str:
        """The rows of what is chosen, as text."""
        if self.view is None:
            return ""
        return {"steps": steps_text, "tests": tests_text, "suspects": suspects_text,
                "moments": moments_text}[self.shown](self.view)  # fmt: skip

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


def steps_text(view: EvidenceView) -> str:
    lines = []
    for step in view.steps:
        mark = "reached    " if step.reached else "not reached"
        odds = f"   ({words.odds(step.p_value)})" if step.p_value is not None else ""
        lines.append(f"{mark} {words.PROOF[step.name]:<11} {step.observed}{odds}")
        if step.missing:
            lines.append(f"{'':>11} {'':<11} missing: {step.missing}")
    return "\n".join(lines)


def tests_text(view: EvidenceView) -> str:
    lines = []
    for step in view.steps:
        if step.test:
            lines += [f"{words.PROOF[step.name]}:", *(f"  {t}" for t in step.test.split("; "))]
    return "\n".join(lines) or "No test has been made yet."


def suspects_text(view: EvidenceView) -> str:
    return "\n".join(
        f"{words.STANDING[standing]:<13} {name}\n{'':13}   {why}"
        for name, standing, why in view.suspects
    )


def moments_text(view: EvidenceView) -> str:
    lines = ["drive       time       kick-out    glitch"]
    for row in view.moments:
        kick = "KICK-OUT" if row.kick_out else ""
        masked = ", masked by the stand-in" if row.masked else ""
        glitch = f"{row.glitch}{masked}" if row.glitch else ""
        lines.append(f"{words.DRIVE.get(row.drive, row.drive):<10} {words.clock(row.t_s):>8}   {kick:<10}  {glitch}")  # fmt: skip
    return "\n".join(lines) if len(lines) > 1 else "Nothing recorded yet."
