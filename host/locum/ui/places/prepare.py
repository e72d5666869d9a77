"""The place before anything is connected: from top to bottom what must be true, and how to make it so."""

from __future__ import annotations

from contextlib import suppress

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input, Static

from locum.errors import LocumError
from locum.jobs.circuit import Circuit
from locum.jobs.desk_facts import Snapshot
from locum.jobs.plan_look import PlanLook, look_at_plan
from locum.jobs.prepare_line import changed_setup, understood
from locum.jobs.prepare_view import rows
from locum.ui.messages import Looked
from locum.ui.places.choose import Choose
from locum.ui.places.place import Place
from locum.ui.prepare_text import CAUTIONS, drawn_text, row_text, sketch_points
from locum.ui.widgets.below import Below
from locum.ui.widgets.rows import Row, Rows

WAYS = {
    "cautions": ("cautions", "shows them whole"),
    "sensor": ("begin('sensor')", "type its readings or a name; nothing after it: the list"),
    "module": ("module", "asks for readings, one at a time"),
    "lines": ("lines", "learn them by driving through the states"),
    "reach": ("begin('reach')", "type sensor, module, splice or nowhere"),
    "board": ("begin('board')", "type its port, virtual, or none to look for one"),
    "self-test": ("self_test", "the board looks at itself again"),
    "calibrated": ("calibrate", "what must be true for a calibration, and its beginning"),
    "plan": ("plan", "choose a profile; one that is ready goes into Drive's line"),
    "case": ("case", "4 Cases"),
}
"""Row -> the action that sets it right and what it does, in words; the others have none here."""
NOTHING = "Nothing to be done here: it is what the board says."
HINT = "Enter, then sensor 20C=2.5k,82C=300   module 5.02 2.4k:2.37   vehicle NAME"
SHEETS = {"sensor": "sensor", "module": "module", "vehicle": "vehicle", "plan": "profile"}
"""Typed alone, each of these words opens the list of its sheets."""


class PreparePlace(Place):
    """Place 1 of 4."""

    NAME = "Prepare"
    NEXT = "2 Drive"
    HELP = (
        CAUTIONS
        + """
Up, Down          choose a row; Enter then does what sets it right. A click does too
n                 the next row that is not ready
a                 I have read the cautions
r                 module: readings asked for one at a time
d                 lines: learned by driving through the states
s                 self-test: the board looks at itself
p                 plan: choose a profile
t                 type a line; so does Enter while no row is chosen:
                  sensor 20C=2.5k,82C=300   sensor NAME   sensor: the list
                  module 5.02 2.4k:2.37   module NAME   vehicle NAME
                  reach sensor|module|splice|nowhere   board PORT   plan NAME
g                 five answers instead: guided start
Page Up, Page Down  leaf in the rows
"""
    )
    BINDINGS = [
        Binding("enter", "do", "type", show=True, tooltip="type what is missing, or do the chosen row"),
        Binding("n", "missing", "next missing", show=True, tooltip="the next row that is not ready"),
        Binding("a", "read", "cautions read", show=True),
        Binding("r", "module", "module", show=True, tooltip="measure the module: readings one at a time"),
        Binding("d", "lines", "lines", show=True, tooltip="learn the lines by driving through the states"),
        Binding("p", "choose_plan", "plan", show=True, tooltip="choose a profile as the plan"),
        Binding("s", "self_test", "self-test: the board looks at itself", show=False),
        Binding("t", "type", "type a line in Prepare", show=False),
        Binding("down", "choose(1)", "the row below in Prepare", show=False),
        Binding("up", "choose(-1)", "the row above in Prepare", show=False),
        Binding("pagedown", "leaf(8)", "leaf on in Prepare", show=False),
        Binding("pageup", "leaf(-8)", "leaf back in Prepare", show=False),
    ]  # fmt: skip
    cautions_read = False
    plan: PlanLook | None = None
    _planned: tuple[str | None, Circuit | None] = (None, None)
    _missing: tuple[str, ...] = ()

    def compose_place(self) -> ComposeResult:
        yield Rows("Page Down", "Page Up", at_once=False, id="prepare")
        yield Below(self.settings.unit, id="prepare-seen")
        yield Static("", id="prepare-told", markup=False)
        yield Input(placeholder=HINT, id="prepare-line")

    @property
    def rows(self) -> Rows:
        return self.query_one("#prepare", Rows)

    @property
    def below(self) -> Below:
        return self.query_one(Below)

    # -- what is shown ---------------------------------------------------------------------------

    def take_look(self, message: Looked) -> None:
        super().take_look(message)
        now = message.snapshot
        self._look_at_plan(now)
        found = rows(now, self.cautions_read, self.plan, self.settings.unit)
        self._missing = tuple(row.name for row in found if row.word != "ready")
        self.rows.show([Row(row_text(row), name=row.name) for row in found])
        self._hint()

    def _hint(self) -> None:
        """What Enter does now, in the empty line."""
        does = WAYS.get(self.rows.chosen, ("", ""))[1]
        hint = f"Enter: {does}" if does else HINT
        line = self.query_one("#prepare-line", Input)
        if line.placeholder != hint:
            line.placeholder = hint

    def _look_at_plan(self, now: Snapshot) -> None:
        """The chosen profile compiled anew where it, or what it is played on, has changed."""
        wanted = (now.setup.profile, now.circuit)
        if wanted[0] != self._planned[0] or wanted[1] is not self._planned[1]:
            self._planned, self.plan = wanted, None
            if now.setup.profile and now.circuit is not None:
                self.compile(now.setup.profile, now.circuit)

    @work(thread=True, exclusive=True, group="plan")
    def compile(self, name: str, circuit: Circuit) -> None:
        found = look_at_plan(name, circuit)
        self.app.call_from_thread(self._compiled, found, circuit)

    def _compiled(self, found: PlanLook, circuit: Circuit) -> None:
        if self._planned[1] is circuit:
            self.plan = found

    def tell_below(self, text: str) -> None:
        self.query_one("#prepare-told", Static).update(text)

    # -- rows ------------------------------------------------------------------------------------

    def action_choose(self, by: int) -> None:
        self.below.show("")
        self.tell_below("")
        self.rows.choose(by)
        self._hint()

    def action_missing(self) -> None:
        """The next row that is not ready, after the chosen one and then from the top."""
        order = [row.name for row in self.rows.rows]
        at = order.index(self.rows.chosen) if self.rows.chosen in order else -1
        after = [name for name in self._missing if order.index(name) > at]
        self.below.show("")
        self.rows.pick(next(iter([*after, *self._missing]), ""))
        self.tell_below("" if self._missing else "Every row is ready. 2 Drive")
        self._hint()

    def action_leaf(self, by: int) -> None:
        self.rows.leaf(by)

    @on(Rows.Taken)
    async def action_do(self) -> None:
        """What sets the chosen row right; while none is chosen, type a line."""
        chosen = self.rows.chosen
        if chosen and chosen not in WAYS:
            self.tell_below(NOTHING)
        else:
            await self.run_action(WAYS[chosen][0] if chosen else "type")

    def action_cautions(self) -> None:
        self.below.show(CAUTIONS + "a: I have read them")

    def action_read(self) -> None:
        self.cautions_read = True
        self.below.show("")

    async def action_module(self) -> None:
        await self.locum.go_to("module")

    async def action_lines(self) -> None:
        await self.locum.go_to("lesson")

    async def action_case(self) -> None:
        await self.locum.go_to("cases")

    async def action_calibrate(self) -> None:
        await self.locum.run_action("calibrate")

    def action_self_test(self) -> None:
        self.tell_below("asked: the board looks at itself")
        self.desk.ask("self_test", words="self-test")

    async def action_plan(self) -> None:
        """A plan that may run goes into Drive's line, not yet sent; else one is chosen."""
        if self.plan is not None and self.plan.ok:
            await self.locum.put_line("drive", f"replay {self.plan.name}")
        else:
            await self.action_choose_plan()

    async def action_choose_plan(self) -> None:
        await self._choose("plan")

    async def _choose(self, word: str) -> None:
        await self.locum.push_screen("choose")
        page = self.locum.get_screen("choose", Choose)
        page.offer(SHEETS[word], lambda name: self.take_line(f"{word} {name}"))

    # -- the typed line --------------------------------------------------------------------------

    def action_type(self) -> None:
        self.query_one("#prepare-line", Input).focus()

    def action_begin(self, word: str) -> None:
        """A line that begins with this word."""
        line = self.query_one("#prepare-line", Input)
        line.value = f"{word} "
        line.focus()
        line.cursor_position = len(line.value)

    @on(Input.Changed, "#prepare-line")
    def typing(self, event: Input.Changed) -> None:
        """Drawn while it is typed; what is no sensor or module yet leaves the last picture."""
        if event.value.strip():
            with suppress(LocumError):
                self._draw(event.value)

    def _draw(self, line: str) -> None:
        unit = self.settings.unit
        drawn = drawn_text(line, self.desk.setup, self.desk.snapshot().circuit, unit)
        self.below.show(drawn, sketch_points(line, unit) if drawn else ())

    @on(Input.Submitted, "#prepare-line")
    async def typed(self, event: Input.Submitted) -> None:
        line, event.input.value = event.value.strip(), ""
        self.set_focus(None)
        if line.lower() in SHEETS:
            await self._choose(line.lower())
        elif line:
            self.take_line(line)

    def take_line(self, line: str) -> None:
        """One line as typed, or as chosen from a list."""
        try:
            setup = changed_setup(self.desk.setup, line, self.settings.unit)
        except LocumError as error:
            self.tell_below(str(error))
            return
        self.tell_below(understood(setup, line, self.settings.unit))
        with suppress(LocumError):
            self._draw(line)
        self.desk.tell(setup)
