"""The application: four places, the keys that work everywhere, and the look at the desk.

Ten times a second the newest snapshot is handed to the place in view; frames may be dropped, the
record never waits. Space and Escape bring the real sensor at once from anywhere.
"""

from __future__ import annotations

from textual.app import App
from textual.binding import Binding
from textual.widgets import Input

from locum.errors import LocumError
from locum.jobs.desk import Desk, Setup
from locum.jobs.evidence_view import EvidenceView
from locum.locations import data_folder
from locum.settings import Settings, load_settings
from locum.ui.messages import KickedOut, Looked
from locum.ui.places.cases import CasesPlace
from locum.ui.places.drive import DrivePlace
from locum.ui.places.evidence import EvidencePlace
from locum.ui.places.help import Help
from locum.ui.places.place import Place
from locum.ui.places.prepare import PreparePlace

LOOK_S = 0.1


class LocumApp(App[int]):
    """The screens of locum."""

    TITLE = "locum"
    CSS_PATH = "locum.tcss"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS = [
        Binding("space", "real_now", "REAL SENSOR NOW", show=True, priority=True),
        Binding("escape", "escape", show=False, priority=True),
        Binding("1", "place('prepare')", show=False),
        Binding("2", "place('drive')", show=False),
        Binding("3", "place('evidence')", show=False),
        Binding("4", "place('cases')", show=False),
        Binding("question_mark", "explain", "explain", show=True),
        Binding("q,f10,ctrl+q", "leave", "leave", show=True),
        Binding("y", "leave_yes", show=False),
    ]

    def __init__(self, setup: Setup | None = None, settings: Settings | None = None) -> None:
        super().__init__()
        self.settings = settings or load_settings()
        self.desk = Desk(setup or Setup(vehicle="parcel_van", sensor="parcel_van_coolant",
                                        module="parcel_van_engine"), self.settings)  # fmt: skip
        self.desk.on_kick_out = self._ring
        self._leaving = False
        self.asked_to_leave = False
        self.case_id: str | None = self.desk.setup.case

    def on_mount(self) -> None:
        self.theme = "textual-light" if self.settings.theme == "day" else "textual-dark"
        places = {"prepare": PreparePlace, "drive": DrivePlace, "evidence": EvidencePlace,
                  "cases": CasesPlace}  # fmt: skip
        for name, place in places.items():
            self.install_screen(place(), name)
        self.push_screen("drive")
        self.desk.open()
        self.set_interval(LOOK_S, self.look)

    @property
    def casebook(self) -> str | None:
        return self.desk.setup.casebook or self.settings.casebook or None

    def export_folder(self) -> str:
        return str(data_folder() / "exports")

    def use_case(self, case_id: str) -> None:
        """Weigh this case, and file the running recording under it."""
        self.case_id = case_id
        self.desk.ask("file", case_id)

    def start_next_drive(self, view: EvidenceView) -> None:
        """Do what the evidence asks for next, as far as one key can."""
        self.switch_screen("drive")
        if view.next_kind in ("provoke", "swap"):
            self.desk.ask("glitch", words="glitches with blanks between")
        self.notify(view.next_words, timeout=12)

    def reopen(self, setup: Setup) -> None:
        """Close the desk (real sensor first) and open it with another setup."""
        self.desk.close(3.0)
        self.desk = Desk(setup, self.settings)
        self.desk.on_kick_out = self._ring
        self.desk.open()

    def _ring(self) -> None:
        self.post_message(KickedOut())

    def look(self) -> None:
        """Hand the newest snapshot to the place in view, if there is a new one."""
        snapshot = self.desk.snapshot()
        if not self.screen_stack:  # between two places, or on the way out
            return
        if isinstance(self.screen, Place):
            self.screen.post_message(Looked(snapshot))
        if self._leaving and snapshot.phase in ("ended", "lost", "closed"):
            self.exit(0)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Space belongs to a typed line while one has the focus."""
        typing = bool(self.screen_stack) and isinstance(self.focused, Input)
        return not (action == "real_now" and typing)

    def action_real_now(self) -> None:
        self.desk.real_sensor_now()

    def action_escape(self) -> None:
        """Leave help or a typed line; otherwise real sensor now."""
        if isinstance(self.screen, Help):
            self.screen.dismiss()
        elif isinstance(self.focused, Input):
            self.focused.value = ""
            self.screen.set_focus(None)
        else:
            self.desk.real_sensor_now()

    def action_place(self, name: str) -> None:
        if self.is_screen_installed(name):
            self.switch_screen(name)

    def action_explain(self) -> None:
        if isinstance(self.screen, Place):
            self.push_screen(Help(str(self.screen.NAME), str(self.screen.HELP)))

    def action_leave(self) -> None:
        """Leave; while the stand-in is connected a ``y`` must follow."""
        glance = self.desk.snapshot().glance
        if glance is not None and glance.standing_in:
            self.asked_to_leave = True
            self.notify("The stand-in is connected. y: ease back and leave.", timeout=10)
            return
        self._leave()

    def action_leave_yes(self) -> None:
        if self.asked_to_leave:
            self.desk.ease_back()
            self._leave()

    def _leave(self) -> None:
        self._leaving = True
        self.desk.close(0.0)

    def on_kicked_out(self, _message: KickedOut) -> None:
        if self.settings.bell:
            self.bell()


def run(setup: Setup | None = None) -> int:
    """Open the screens; the exit code."""
    try:
        return LocumApp(setup).run() or 0
    except LocumError as error:
        print(error)
        return error.exit_code
