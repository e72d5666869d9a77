"""Learning what the watched lines mean: name them, then drive through the states and say each as it comes."""

from __future__ import annotations

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding

from locum.errors import LocumError
from locum.jobs.lesson import ANEW, MARK, Lesson
from locum.jobs.lesson_learned import Taught, keep, resumed, taught
from locum.ui.lesson_text import asked_text, now_text, state_text, taught_text
from locum.ui.messages import Looked
from locum.ui.places.place import Place
from locum.ui.widgets.asked import Asked
from locum.ui.widgets.rows import Row, Rows

FORGET = "x once more: everything that was said is forgotten, and lines and states are named anew."


class LessonPlace(Place):
    """Not one of the four: opened from Prepare's row lines."""

    NAME = "Lines"
    NEXT = "1 Prepare"
    HELP = """\
What the watched lines mean, learned by driving. First lines and states are
named, one a line; back takes the last one back. Then the driver drives, and
whoever sits beside says each state as it comes, with one key. The real sensor
stays connected. A state may also be typed by hand: top gear = clutch on.
Leave whenever you like, 1 to 4: what was said stays, with a case in use also
for another day.

Enter             this state stands now; while something is asked: type
Up, Down          choose another state than the one asked for; a click says it
u                 take the last saying, or the last answer, back
w                 what was learned so far, and what is still unclear
y                 use what was learned: kept with the case, in a new recording
x                 begin the whole lesson anew; pressed twice
Page Up, Page Down  leaf
"""
    BINDINGS = [
        Binding("enter", "go_on", "it is so", show=True, tooltip="say that the state asked for stands now"),
        Binding("w", "learned", "learned", show=True, tooltip="what was learned of the lines so far"),
        Binding("y", "use", "use it", show=True, tooltip="use what was learned of the lines"),
        Binding("u", "back", "back", show=True, tooltip="take the last saying of a state back"),
        Binding("x", "anew", "begin the lesson of the lines anew", show=False),
        Binding("up", "choose(-1)", "the state above", show=False),
        Binding("down", "choose(1)", "the state below", show=False),
        Binding("pageup", "leaf(-8)", "leaf back in the lesson", show=False),
        Binding("pagedown", "leaf(8)", "leaf on in the lesson", show=False),
    ]  # fmt: skip
    DEFAULT_CSS = "#lesson { height: 1fr; padding: 0 1; }"
    lesson: Lesson | None = None
    found: Taught | None = None
    _of_case: str | None = None
    _wanted = _told = ""

    def compose_place(self) -> ComposeResult:
        yield Asked()
        yield Rows("Page Down", "Page Up", id="lesson")

    @property
    def asked(self) -> Asked:
        return self.query_one(Asked)

    @property
    def rows(self) -> Rows:
        return self.query_one("#lesson", Rows)

    def on_screen_resume(self) -> None:
        if self.lesson is None or self._of_case != self.locum.case_id:
            self._begin()
        super().on_screen_resume()
        self._turn()

    def _begin(self, anew: bool = False) -> None:
        """The lesson of the case in use as it was left; or, anew, one without anything said."""
        self._of_case, self.found, self._told, self._wanted = self.locum.case_id, None, "", ""
        circuit = self.desk.snapshot().circuit
        vehicle = circuit.vehicle if circuit else None
        if anew:
            self.lesson = Lesson(vehicle, self._note)
            self._note(ANEW)
        else:
            self.lesson = resumed(self._of_case, vehicle, self._note, self.locum.casebook)
        self.asked.needed = "type it; back takes the last one back"
        self.asked.begin(self.lesson)

    def _note(self, words: str) -> None:
        """Into the recording, where another sitting finds it."""
        self.desk.mark(MARK, 0.0, words)

    def _turn(self) -> None:
        """Naming or driving, whichever it is now."""
        driving = self.lesson is not None and self.lesson.done
        self.asked.display, self.rows.display = not driving, driving
        if driving:
            self.set_focus(None)
            self._draw()
        else:
            self.asked.show()
            self.asked.type()
        self.refresh_bindings()

    @on(Asked.Taken)
    def taken(self) -> None:
        self._turn()

    def take_look(self, message: Looked) -> None:
        super().take_look(message)
        if self.lesson is not None and self.lesson.done:
            self._draw()

    def useless_keys(self, message: Looked) -> tuple[str, ...]:
        useless = super().useless_keys(message)
        usable = self.found is not None and self.found.usable
        return useless if usable else (*useless, "use")

    def _draw(self) -> None:
        lesson = self.lesson
        if lesson is None:
            return
        now = self.desk.snapshot()
        wanted = self.rows.chosen or self._wanted or lesson.asked_for()
        made = [Row(asked_text(lesson, wanted), "loud"), Row(now_text(lesson, now)), Row("")]
        made += [
            Row(state_text(lesson, state, now), name=state if state in lesson.to_drive else "")
            for state in lesson.states
        ]
        for text, style in (
            (self._told, "loud"),
            (taught_text(self.found) if self.found else "", "text"),
        ):
            if text:
                made += [Row(""), *(Row(line, style) for line in text.split("\n"))]
        self.rows.show(made, wanted)

    # -- keys ------------------------------------------------------------------------------------

    def action_go_on(self) -> None:
        if self.lesson is not None and self.lesson.done:
            self.say()
        else:
            self.asked.type()

    @on(Rows.Taken)
    def say(self) -> None:
        """The chosen state stands now; the next one is asked for."""
        lesson, state, now = self.lesson, self.rows.chosen, self.desk.snapshot()
        if lesson is None or not state:
            return
        try:
            at_s = now.glance.t_s if now.glance else 0.0
            lesson.say(state, now.drive_id if now.phase == "recording" else "", at_s)
        except LocumError as error:
            self._told = str(error)
            self._draw()
            return
        self._told, self.found = f"said: {state}", None
        self._ask_for(lesson.asked_for(state))
        if lesson.complete:
            self.action_learned()

    def _ask_for(self, state: str) -> None:
        self._wanted, self.rows.chosen = state, ""
        self._draw()

    def action_choose(self, by: int) -> None:
        self.rows.choose(by)
        self._draw()

    def action_leaf(self, by: int) -> None:
        self.rows.leaf(by)

    def action_back(self) -> None:
        lesson = self.lesson
        if lesson is None:
            return
        state = lesson.unsay() if lesson.done else ""
        if state:
            self._told, self.found = f"taken back: {state}", None
            self._ask_for(state)
        else:
            self.asked.back()

    def action_anew(self) -> None:
        """Begin anew; a second press, for what was said is gone then."""
        if self.lesson is not None and self.lesson.said and self._told != FORGET:
            self._told = FORGET
            self._draw()
            return
        self._begin(anew=True)
        self._turn()

    def action_learned(self) -> None:
        if self.lesson is not None and self.lesson.done:
            self._told = "looking at the recording ..."
            self._draw()
            self.learn(self.lesson)

    @work(thread=True, exclusive=True, group="learn")
    def learn(self, lesson: Lesson) -> None:
        try:
            found, told = taught(lesson, self.locum.casebook), ""
        except LocumError as error:
            found, told = None, str(error)
        self.app.call_from_thread(self._learned, found, told)

    def _learned(self, found: Taught | None, told: str) -> None:
        self.found, self._told = found, told
        self._draw()
        self.refresh_bindings()

    def action_use(self) -> None:
        """Kept with the case, and used from now on."""
        if self.found is None:
            return
        case_id = self.locum.case_id
        try:
            setup = keep(self.desk.setup, self.found, case_id, self.locum.casebook)
        except LocumError as error:
            self._told = str(error)
        else:
            where = (
                "with the case" if case_id else "in the workshop's sheets, and with the recording"
            )
            self._told = f"Kept {where}; used from now on, in a new recording. 1 Prepare"
            self.desk.tell(setup)
        self._draw()
