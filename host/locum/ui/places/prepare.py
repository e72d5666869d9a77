"""The place before anything is connected: from top to bottom what must be true, and how to make it so."""

from __future__ import annotations

from contextlib import suppress

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Input, Static

from locum.errors import LocumError
from locum.jobs.prepare_view import changed_setup, look_at_sensor, rows, understood
from locum.ui.messages import Looked
from locum.ui.places.place import Place
from locum.ui.prepare_text import module_text, row_text, sensor_text
from locum.ui.widgets.hanging import Hanging
from locum.ui.widgets.sketch import Sketch

CAUTIONS = """\
Two people on the road: the driver drives, the other one works this.
While the stand-in is connected the module does not see the true temperature:
fan, lamp and overheat protection that rest on this sensor are blind.
Never on restraint, high-voltage, brake, steering, throttle-by-wire or
immobiliser circuits. Keep clear of turning wheels and hot parts.
Service manual, local law and licensed practice come first.
Key off before anything is unplugged; wire it in as drawn.
"""


class PreparePlace(Place):
    """Place 1 of 4."""

    NAME = "Prepare"
    NEXT = "2 Drive"
    HELP = (
        CAUTIONS
        + """
a                 I have read the cautions
g                 five answers instead: guided start
Enter             type: sensor 20C=2.5k,82C=300   sensor NAME
                  module 5.02 2.4k:2.37   module NAME   vehicle NAME
                  reach sensor|module|splice|nowhere   board PORT
"""
    )
    BINDINGS = [
        Binding("enter", "type", "type what is missing", show=True),
        Binding("a", "read", "cautions read", show=True),
    ]
    cautions_read = False

    def compose_place(self) -> ComposeResult:
        with VerticalScroll(id="prepare"):
            yield Hanging("", id="prepare-rows", markup=False)
            with Horizontal(id="prepare-seen"):
                yield Static("", id="prepare-look", markup=False)
                yield Sketch(self.settings.unit, id="prepare-sketch")
        yield Static("", id="prepare-told", markup=False)
        yield Input(placeholder="Enter, then sensor 20C=2.5k,82C=300   module 5.02 2.4k:2.37   vehicle NAME",
                    id="prepare-line")  # fmt: skip

    @on(Looked)
    def look(self, message: Looked) -> None:
        text = "\n".join(row_text(row) for row in rows(message.snapshot, self.cautions_read))
        target = self.query_one("#prepare-rows", Static)
        if str(target.content) != text:
            target.update(text)

    def action_type(self) -> None:
        self.query_one("#prepare-line", Input).focus()

    def action_read(self) -> None:
        self.cautions_read = True

    @on(Input.Changed, "#prepare-line")
    def typing(self, event: Input.Changed) -> None:
        """Drawn while it is typed; what is no sensor or module yet leaves the last picture."""
        with suppress(LocumError):
            self._draw(changed_setup(self.desk.setup, event.value.strip()), event.value.strip())

    @on(Input.Submitted, "#prepare-line")
    def typed(self, event: Input.Submitted) -> None:
        line, event.input.value = event.value.strip(), ""
        self.set_focus(None)
        told = self.query_one("#prepare-told", Static)
        if not line:
            return
        try:
            setup = changed_setup(self.desk.setup, line)
        except LocumError as error:
            told.update(str(error))
            return
        told.update(understood(setup, line))
        self._draw(setup, line)
        self.desk.tell(setup)

    def _draw(self, setup, line: str) -> None:
        look = look_text(setup, line.partition(" ")[0], self.settings.unit)
        self.query_one("#prepare-look", Static).update(look)
        if look:  # on a small terminal the rows above fill the page
            self.query_one("#prepare").scroll_end(animate=False)
        sensor = setup.sensor if line.lower().startswith("sensor ") else None
        self.query_one(Sketch).show(look_at_sensor(sensor).points if sensor else ())


def look_text(setup, word: str, unit: str) -> str:
    """What was just typed, drawn at once."""
    if word.lower() == "sensor":
        return "\n" + sensor_text(setup.sensor, unit)
    if word.lower() == "module":
        return "\n" + module_text(setup.module, setup.sensor, unit)
    return ""
