"""The application: the places, the keys that work everywhere, and the look at the desk.

Ten times a second the newest snapshot is handed to the place in view; frames may be dropped, the
record never waits. Space and Escape bring the real sensor at once from anywhere.
"""

from __future__ import annotations

from textual.binding import Binding
from textual.widgets import Input

from locum.errors import LocumError
from locum.jobs.desk import Asked, Desk, Setup
from locum.jobs.evidence_view import EvidenceView
from locum.jobs.first_start import is_wanted
from locum.jobs.next_drive import begun
from locum.locations import data_folder
from locum.settings import Settings, load_settings
from locum.ui.actions import doable
from locum.ui.beforehand import build_beforehand
from locum.ui.calibrate import ask_calibrate
from locum.ui.ended import heed_signals
from locum.ui.leaving import Leaving
from locum.ui.looks.looks import looks_for
from locum.ui.looks.pauses import short_pauses
from locum.ui.messages import KickedOut, Looked
from locum.ui.places.calibrate import CalibratePage
from locum.ui.places.cases import CasesPlace
from locum.ui.places.choose import Choose
from locum.ui.places.drive import DrivePlace
from locum.ui.places.evidence import EvidencePlace
from locum.ui.places.find import Find
from locum.ui.places.first import FirstPlace
from locum.ui.places.help import Help
from locum.ui.places.lesson import LessonPlace
from locum.ui.places.module import ModulePlace
from locum.ui.places.place import Over, Page, Place
from locum.ui.places.prepare import PreparePlace

TYPED_LINES = {"drive": "#typed", "prepare": "#prepare-line"}
PLACES: dict[str, type[Place]] = {
    "prepare": PreparePlace, "drive": DrivePlace, "evidence": EvidencePlace, "cases": CasesPlace,
    "first": FirstPlace, "module": ModulePlace, "lesson": LessonPlace,
}  # fmt: skip


class LocumApp(Leaving):
    """The screens of locum."""

    TITLE = "locum"
    CSS_PATH = "locum.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS = [
        Binding("space", "real_now", "REAL SENSOR NOW", show=True, priority=True),
        Binding("escape", "escape", "leave a typed line or help, else real sensor now", show=False,
                priority=True),
        Binding("b", "ease", "ease back", show=True,
                tooltip="ease back: walk to the real value, then the real sensor"),
        Binding("m", "mark(0)", "mark: felt", show=True),
        Binding("M", "mark(10)", "mark: felt 10 s ago", show=False),
        Binding("L", "mark(30)", "mark: felt 30 s ago", show=False),
        Binding("J", "mark(-5)", "mark early: it is about to come", show=False),
        Binding("j", "answer('foot')", "the kick-out was the foot", show=False),
        Binding("k", "answer('brake')", "the kick-out was the brake", show=False),
        Binding("l", "answer('road')", "the kick-out was the road", show=False),
        Binding("1", "place('prepare')", "go to Prepare", show=False),
        Binding("2", "place('drive')", "go to Drive", show=False),
        Binding("3", "place('evidence')", "go to Evidence", show=False),
        Binding("4", "place('cases')", "go to Cases", show=False),
        Binding("g", "place('first')", "guided start: five answers to a value held", show=False),
        Binding("K", "calibrate", "calibrate: the board measures itself, two minutes", show=False),
        Binding("5,ctrl+p", "find", "all that can be done", show=False),
        Binding("question_mark", "explain", "explain", show=True, tooltip="explain where one is"),
        Binding("q,f10,ctrl+q,ctrl+c", "leave", "leave", show=True),
    ]  # fmt: skip

    def __init__(self, setup: Setup | None = None, settings: Settings | None = None) -> None:
        self.settings = settings or load_settings()
        super().__init__(Desk(setup or Setup(), self.settings))
        self.looks = looks_for(self.settings)
        self.desk.on_kick_out = self._ring

    def on_mount(self) -> None:
        self.looks.dress(self)
        for name, place in PLACES.items():
            self.install_screen(place(), name)
        self.install_screen(Help(), "help")
        self.install_screen(Find(), "find")
        self.install_screen(Choose(), "choose")
        self.install_screen(CalibratePage(), "calibrate")
        first = is_wanted(self.desk.setup, self.settings)
        self.push_screen("first" if first else "drive")
        build_beforehand(self, ("drive", "help", *PLACES, "find", "choose", "calibrate"),
                         lambda: self.when_built())  # fmt: skip
        self.desk.open()
        self.set_interval(self.looks.look_s, self.look)

    def when_built(self) -> None:
        """Called once every place has been built."""

    # -- what places ask the application for -----------------------------------------------------

    @property
    def case_id(self) -> str | None:
        return self.desk.snapshot().case_id or self.desk.setup.case

    def get_line_filters(self):
        return [*super().get_line_filters(), *self.looks.filters(self.theme)]

    @property
    def casebook(self) -> str | None:
        return self.desk.casebook

    def export_folder(self) -> str:
        return str(data_folder() / "exports")

    def use_case(self, case_id: str) -> None:
        """Weigh this case, and file the running recording under it."""
        self.desk.use_case(case_id)

    def start_next_drive(self, view: EvidenceView) -> None:
        """Begin a recording of the kind that the evidence asks for, and what it needs."""
        setup, act, words = begun(view, self.desk.setup)
        self.switch_screen("drive")
        if setup is not None:
            self.desk.reopen(setup, act)
        self.say(words, 12.0)

    def reopen(self, setup: Setup, then: Asked | None = None) -> None:
        """Another recording with another setup; the real sensor comes first."""
        self.desk.reopen(setup, then)

    # -- ten times a second ----------------------------------------------------------------------

    def _ring(self) -> None:
        self.post_message(KickedOut())

    def look(self) -> None:
        """Hand the newest snapshot to the place in view, if there is a new one."""
        snapshot = self.desk.snapshot()
        if self.may_go(snapshot):
            self.exit(0)
        if self.screen_stack and isinstance(self.screen, Page):
            self.screen.post_message(Looked(snapshot))

    def on_kicked_out(self, _message: KickedOut) -> None:
        if self.settings.bell:
            self.bell()

    # -- keys that work everywhere ---------------------------------------------------------------

    def action_real_now(self) -> None:
        self.desk.real_sensor_now()

    def action_ease(self) -> None:
        self.desk.ease_back()

    def action_mark(self, ago_s: int) -> None:
        self.desk.mark("key", float(ago_s))

    def action_answer(self, kind: str) -> None:
        if self.desk.snapshot().awaits_answer:
            self.desk.mark(kind)

    def action_escape(self) -> None:
        """Leave what lies over a place, or a typed line; otherwise real sensor now."""
        if isinstance(self.screen, Over):
            self.pop_screen()
        elif isinstance(self.focused, Input):
            self.focused.value = ""
            self.screen.set_focus(None)
        else:
            self.desk.real_sensor_now()

    async def go_to(self, name: str) -> None:
        """That place, from any place and from what lies over one."""
        while isinstance(self.screen, Over):
            await self.pop_screen()
        if self.screen is not self.get_screen(name):
            await self.switch_screen(name)

    async def put_line(self, place: str, line: str) -> None:
        """A line into the typed line of drive or prepare, not sent: Enter there sends it."""
        await self.go_to(place)
        typed = self.screen.query_one(TYPED_LINES[place], Input)
        typed.value = line
        typed.focus()
        typed.cursor_position = len(line)

    async def action_place(self, name: str) -> None:
        await self.go_to(name)

    async def action_explain(self) -> None:
        place = self.screen
        if isinstance(place, Place):
            await self.push_screen("help")
            self.get_screen("help", Help).explain(place.NAME, place.help_text())

    async def action_find(self) -> None:
        """All that can be done, by its words."""
        if isinstance(self.screen, Help):
            await self.pop_screen()
        place = self.screen
        if isinstance(place, Place):
            await self.push_screen("find")
            self.get_screen("find", Find).offer(tuple(doable(self, PLACES)), place.NAME)

    async def action_calibrate(self) -> None:
        await ask_calibrate(self)


def run(setup: Setup | None = None) -> int:
    """Open the screens; the exit code."""
    try:
        app = LocumApp(setup)
        heed_signals(app, app.desk)
        short_pauses(app)
        return app.run() or 0
    except LocumError as error:
        print(error)
        return error.exit_code
