"""The module's input measured, asked for one value at a time, and what follows from it."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding

from locum.errors import LocumError
from locum.jobs.module_kept import circuit_for, keep, look_at_result
from locum.jobs.module_readings import ModuleReadings
from locum.ui.places.place import Place
from locum.ui.prepare_text import module_result_text
from locum.ui.widgets.asked import Asked


class ModulePlace(Place):
    """Not one of the four: opened from Prepare's row module."""

    NAME = "Module"
    NEXT = "1 Prepare"
    HELP = """\
What the control module shows at the sensor's plug: its pull-up and the voltage
behind it. A hand meter and one known resistor are enough; the board is not
needed. Key off before the plug is pulled and before it is put back.
Each reading is one line and Enter; what was understood stands above the next
question. back as an answer takes the last one back. Nothing is kept before
the last answer; then it goes with the case, and the module is used at once.

Enter             type; once all is answered: use it, back to Prepare
u                 take the last answer back
w                 begin again with other readings
Escape            leave the typed line; what was answered stays
"""
    BINDINGS = [
        Binding("enter", "go_on", "go on", show=True, tooltip="type the next reading of the module"),
        Binding("u", "back", "back", show=True, tooltip="take the last reading of the module back"),
        Binding("w", "again", "again", show=True, tooltip="measure the module again from the beginning"),
    ]  # fmt: skip
    readings: ModuleReadings | None = None

    def compose_place(self) -> ComposeResult:
        yield Asked()

    @property
    def asked(self) -> Asked:
        return self.query_one(Asked)

    def on_screen_resume(self) -> None:
        if self.readings is None or self.readings.done:
            self.action_again()
        else:
            self.taken()

    def action_again(self) -> None:
        self.readings = ModuleReadings()
        self.asked.needed = "type what the meter shows"
        self.asked.begin(self.readings)
        self.asked.type()

    def action_back(self) -> None:
        self.asked.back()

    async def action_go_on(self) -> None:
        if self.readings is not None and self.readings.done:
            await self.locum.go_to("prepare")
        else:
            self.asked.type()

    @on(Asked.Taken)
    def taken(self) -> None:
        """Show what the readings say so far; keep them once all is answered."""
        readings = self.readings
        if readings is None:
            return
        result = readings.result
        if result is None or not readings.done:
            doubts = (*result.refusals, *result.warnings) if result else ()
            self.asked.show("\n".join(remark.text for remark in doubts))
            self.asked.type()
            return
        base = self.desk.snapshot().circuit or circuit_for(self.desk.setup)
        seen = look_at_result(readings.open_v, readings.loads, result, base)
        self.set_focus(None)
        fault, kept = self._keep(readings)
        self.asked.show(fault, f"{module_result_text(result, seen, self.settings.unit)}\n\n{kept}")

    def _keep(self, readings: ModuleReadings) -> tuple[str, str]:
        """Kept with the case and used; (refusal, what was done)."""
        case_id = self.locum.case_id
        with_case = (
            "with the case" if case_id else "in the workshop's sheets, and with the recording"
        )
        try:
            setup = keep(self.desk.setup, readings.open_v, readings.loads, case_id,
                         self.locum.casebook)  # fmt: skip
        except LocumError as error:
            kept = (
                "The readings are kept with the case."
                if case_id
                else "No case is in use: they are kept nowhere."
            )
            return str(error), f"{kept} The stand-in is not to be connected there: only listen."
        self.desk.tell(setup)
        return "", f"Kept {with_case}; used from now on, in a new recording. Enter: Prepare"
