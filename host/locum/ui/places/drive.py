"""The place where one drives: glance, running lines, one typed line, big answers after a bell."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input, Static

from locum.errors import LocumError
from locum.jobs.typed import act_of
from locum.ui.messages import Looked
from locum.ui.places.place import Place
from locum.ui.widgets.glance import Glimpse
from locum.ui.widgets.river import River

ANSWERS = {"j": "foot", "k": "brake", "l": "road"}


class DrivePlace(Place):
    """Place 2 of 4."""

    NAME = "Drive"
    HELP = """\
What is connected stands at the top left: REAL SENSOR or STAND-IN.

Space or Escape   real sensor now, at once, from any place
b                 ease back: walk to the real value, then the real sensor
Enter             type a value: 80, 320ohm, now, up 2, back 2, stay, follow,
                  sweep 20 90 10, replay NAME, open 300, short 300, glitch 300
f                 follow the real sensor without its glitches
m                 something was felt just now; M: ten seconds ago
j k l             after a kick-out's bell: it was the foot, the brake, the road
y n               at the end of a stretch: something, nothing was felt
e                 I am here: the longest time away starts again
d                 more or fewer details
"""
    BINDINGS = [
        Binding("enter", "type", "type a value", show=True),
        Binding("b", "ease", "ease back", show=True),
        Binding("f", "follow", "follow", show=True),
        Binding("m", "mark(0)", "mark", show=True),
        Binding("M", "mark(10)", "10 s ago", show=False),
        Binding("e", "extend", "I am here", show=False),
        Binding("d", "detail", "details", show=False),
        Binding("j", "answer('foot')", show=False),
        Binding("k", "answer('brake')", show=False),
        Binding("l", "answer('road')", show=False),
        Binding("y", "felt(True)", show=False),
        Binding("n", "felt(False)", show=False),
    ]

    def compose_place(self) -> ComposeResult:
        yield Glimpse(self.settings.unit, id="glimpse")
        yield Static("", id="bell")
        yield Static("", id="detail")
        yield River(self.settings.unit, id="river")
        yield Static("", id="refusal")
        yield Input(placeholder="80, now, up 2, stay, back 2, follow, sweep 20 90, replay NAME",
                    id="typed")  # fmt: skip

    def on_mount(self) -> None:
        self.query_one("#detail").display = False
        self.query_one("#bell").display = False
        self.query_one("#typed").can_focus = True
        self.set_focus(None)

    @on(Looked)
    def look(self, message: Looked) -> None:
        snapshot = message.snapshot
        self.query_one(Glimpse).show(snapshot)
        river = self.query_one(River)
        river.hidden = snapshot.hidden
        river.lines = snapshot.lines
        bell = self.query_one("#bell", Static)
        bell.display = snapshot.awaits_answer
        if snapshot.awaits_answer:
            bell.update("KICK-OUT   what was it?   j foot   k brake   l road   nothing: no key")
        self._show_remarks(snapshot)
        self._show_detail(snapshot)

    def _show_remarks(self, snapshot) -> None:
        newest = snapshot.remarks[-1].text if snapshot.remarks else ""
        if newest and newest != getattr(self, "_told", ""):
            self._told = newest
            self.query_one("#refusal", Static).update(newest)

    def _show_detail(self, snapshot) -> None:
        detail = self.query_one("#detail", Static)
        g = snapshot.glance
        if not detail.display or g is None:
            return
        from locum.ui import words

        detail.update(
            f"line {g.node_v:.3f} V   told {words.ohms(g.told_ohm)}   real {words.ohms(g.true_ohm)}   "
            f"step {g.step + 1 if g.steps else 0} of {g.steps}   board {words.STATE[g.state]}   "
            f"glitches {g.glitches}   lost records {g.lost}"
        )

    @on(Input.Submitted, "#typed")
    def typed(self, event: Input.Submitted) -> None:
        text = event.value.strip()
        event.input.value = ""
        self.set_focus(None)
        if not text:
            return
        glance = self.desk.snapshot().glance
        try:
            act = act_of(text, self.settings.unit, glance.told_c if glance else None)
        except LocumError as error:
            self.query_one("#refusal", Static).update(str(error))
            return
        self.query_one("#refusal", Static).update(f"asked: {act.words}")
        self.desk.ask(act.name, *act.arguments, words=act.words)

    def action_type(self) -> None:
        self.query_one("#typed", Input).focus()

    def action_ease(self) -> None:
        self.desk.ease_back()

    def action_follow(self) -> None:
        self.desk.ask("follow", words="")

    def action_mark(self, ago_s: int) -> None:
        self.desk.mark("key", float(ago_s))

    def action_answer(self, kind: str) -> None:
        if self.desk.snapshot().awaits_answer:
            self.desk.mark(kind)

    def action_felt(self, yes: bool) -> None:
        if yes and self.locum.asked_to_leave:
            self.locum.action_leave_yes()
            return
        self.desk.mark("felt" if yes else "not_felt")

    def action_extend(self) -> None:
        self.desk.ask("extend")

    def action_detail(self) -> None:
        detail = self.query_one("#detail")
        detail.display = not detail.display
