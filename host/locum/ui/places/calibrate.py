"""The board measures itself: what must be true first, how far it is, what is known afterwards.

Lies over any place. Closing it stops nothing: the calibration goes on, and Drive says how far it is.
"""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input

from locum.errors import LocumError
from locum.jobs.calibration_told import Ahead, look_ahead
from locum.jobs.desk_calibrating import METER_LINE, hand_meter
from locum.ui.calibrate_text import ahead_rows, look_text
from locum.ui.messages import Looked
from locum.ui.places.place import Over
from locum.ui.widgets.keys import TYPING
from locum.ui.widgets.rows import Row, Rows

STOPS = ("space", "REAL SENSOR NOW, stops it")
METER = f"""\
A hand meter's readings, if there is one better than the board's own references
of 0.1 %: hold 200ohm and 9k in Drive, the meter at the stand-in's terminals.
Then type its name, its accuracy, and what it read, such as
{METER_LINE}"""


class CalibratePage(Over):
    """Opened by :func:`ask_calibrate`."""

    NAME = "Calibration"
    BINDINGS = [
        Binding("enter", "begin", "begin", show=False),
        Binding("h", "meter", "a hand meter's readings", show=False),
    ]
    DEFAULT_CSS = """
    #calibration { height: 1fr; padding: 0 1; }
    #hand-meter { height: 1; border: none; padding: 0 1; background: $surface; }
    """
    _ahead: Ahead | None = None
    _looked: tuple = ()
    _readings = _fault = ""

    @property
    def OWN_KEYS(self) -> tuple[tuple[str, str], ...]:
        """The keys that do something now."""
        if isinstance(self.focused, Input):
            return TYPING
        look = self.desk.snapshot().calibration
        if look is not None and look.under_way:
            return (STOPS, ("escape", "closes this page; it goes on"))
        return (
            ("space", "REAL SENSOR NOW"), ("enter", "begins"), ("h", "a hand meter's readings"),
            ("escape", "closes"),
        )  # fmt: skip

    def compose_place(self) -> ComposeResult:
        yield Rows("Down", "Up", id="calibration")
        yield Input(placeholder=METER_LINE, id="hand-meter")

    def on_mount(self) -> None:
        self.query_one("#hand-meter").display = False

    def on_screen_resume(self) -> None:
        self._looked, self._fault = (), ""
        super().on_screen_resume()

    def take_look(self, message: Looked) -> None:
        super().take_look(message)
        now = message.snapshot
        away = now.glance is not None and now.glance.standing_in
        phase = now.calibration.phase if now.calibration else ""
        looked = (now.phase, now.hidden, away, now.board, phase)
        if looked != self._looked:
            self._looked, self._ahead = looked, look_ahead(now)
            self.refresh_bindings()
        self._draw()

    def _draw(self) -> None:
        now = self.desk.snapshot()
        look = now.calibration
        rows = [Row("Calibration: the board measures its own resistors", "loud")]
        if self._ahead is not None and not (look is not None and look.under_way):
            rows += [Row(text) for text in ahead_rows(self._ahead)]
        if isinstance(self.focused, Input):
            rows += [Row(""), *(Row(line) for line in METER.split("\n"))]
        elif self._readings:
            rows.append(Row(f"hand meter: {self._readings}"))
        if self._fault:
            rows += [Row(""), Row(self._fault, "loud")]
        if look is not None:
            rows += [Row(""), Row(look_text(look, self.settings.unit), "loud")]
            if look.phase == "refused" and now.remarks:
                rows.append(Row(now.remarks[-1].text))
        self.query_one(Rows).show(rows)

    def action_begin(self) -> None:
        """Ask for it, where everything is ready and none is under way."""
        look = self.desk.snapshot().calibration
        if look is not None and look.under_way:
            return
        if self._ahead is None or not self._ahead.may_begin:
            self._fault = "Not begun: what is missing stands above."
        else:
            self._fault = ""
            self.desk.ask("calibrate", self._readings, words="calibration")
        self._draw()

    def action_meter(self) -> None:
        line = self.query_one("#hand-meter", Input)
        line.display = True
        line.focus()
        self.refresh_bindings()
        self._draw()

    @on(Input.Submitted, "#hand-meter")
    def typed(self, event: Input.Submitted) -> None:
        text, event.input.value = event.value.strip(), ""
        event.input.display = False
        self.set_focus(None)
        self._fault = ""
        try:
            hand_meter(text)
            self._readings = text
        except LocumError as error:
            self._fault = str(error)
        self.refresh_bindings()
        self._draw()
