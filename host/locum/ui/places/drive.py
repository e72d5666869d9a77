"""The place where one drives: glance, running lines, one typed line, big answers after a bell."""

from __future__ import annotations

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input, Static

from locum.errors import LocumError, Remark
from locum.jobs.desk_facts import Outcome, Snapshot
from locum.jobs.typed import act_of
from locum.ui import words
from locum.ui.asking import offers_text
from locum.ui.messages import Looked
from locum.ui.places.place import Place
from locum.ui.widgets.glance import Glimpse
from locum.ui.widgets.keys import KeyWords
from locum.ui.widgets.river import River


class DrivePlace(Place):
    """Place 2 of 4."""

    NAME = "Drive"
    NEXT = "3 Evidence"
    OVER = False
    HELP = """\
What is connected stands at the top left: REAL SENSOR or STAND-IN.
told: what the module is made to believe; true: what the real sensor says;
commanded: what the module does, by the watched lines.
time that counts: what the case's rule asks for, and somebody watched.
A held value wanders by half a degree: one that never moves looks stuck.

Enter             type: 80, 320ohm, hold now (what the sensor says),
                  up 2, back 2, stay, follow,
                  sweep 20 90 10, replay NAME, open 300, short 300,
                  glitch 300 (milliseconds); swap 4 10: unseen test,
                  4 stretches of 10 minutes
c w t             hold: as found cold, as measured warm, at the threshold
x                 give the glitch kept in Evidence, blanks between
f                 follow the real sensor without its glitches
a                 write a note into the record
y n               at the end of a stretch: something, nothing was felt
e                 I am here: the longest time away starts again
v                 a new recording begins; the old one is closed and kept
d                 more or fewer details
Page Up, Page Down  leaf in the running lines; End: the newest;
                  | . commanded as above: the held state, another one
"""
    BINDINGS = [
        Binding("enter", "type", "type a value", show=True),
        Binding("f", "follow", "follow", show=True,
                tooltip="follow the real sensor without its glitches"),
        Binding("a", "note", "write a note into the record", show=False),
        Binding("c", "offer('cold')", "hold as found cold", show=False),
        Binding("w", "offer('warm')", "hold as measured warm", show=False),
        Binding("t", "offer('threshold')", "hold at the threshold", show=False),
        Binding("x", "give", "give the glitch that was kept, blanks between", show=False),
        Binding("e", "extend", "I am here: time away starts again", show=False),
        Binding("pageup", "leaf(1)", "leaf back in the running lines", show=False),
        Binding("pagedown", "leaf(-1)", "leaf forward in the running lines", show=False),
        Binding("end", "leaf(-9999)", "the newest of the running lines", show=False),
        Binding("v", "new_recording", "begin a new recording", show=False),
        Binding("d", "detail", "details", show=False),
        Binding("y", "felt(True)", "something was felt in the stretch that ended", show=False),
        Binding("n", "felt(False)", "nothing was felt in the stretch that ended", show=False),
    ]  # fmt: skip
    DEFAULT_CSS = """
    #offers { height: auto; max-height: 2; padding: 0 1; color: $foreground; }
    """
    FIRST_KEYS = ("space", "b", "m")
    noting = False
    _told = _news = _latest = ""
    _remark: Remark | None = None
    _outcome: Outcome | None = None

    def compose_place(self) -> ComposeResult:
        yield Glimpse(self.settings.unit, id="glimpse")
        yield KeyWords("", id="bell", markup=False)
        yield Static("", id="detail", markup=False)
        yield River(self.settings.unit, id="river")
        yield KeyWords("", id="offers", markup=False)
        yield Static("", id="refusal", markup=False)
        yield Input(id="typed")

    def on_mount(self) -> None:
        self.query_one("#detail").display = False
        for name in ("offers", "refusal"):
            self.query_one(f"#{name}").display = False
        self._hint()
        self.set_focus(None)

    def take_look(self, message: Looked) -> None:
        super().take_look(message)
        snapshot = message.snapshot
        self.query_one(Glimpse).show(snapshot)
        river = self.query_one(River)
        river.hidden = snapshot.hidden
        river.lines = snapshot.lines
        self.tell("offers", offers_text(snapshot, self.settings.unit))
        newest = snapshot.trouble_words or self._newest(snapshot)
        if newest != self._told:
            self._told = newest
            self.tell("refusal", newest)
        if self.query_one("#detail").display:
            self.tell("detail", detail_text(snapshot))

    def _newest(self, snapshot: Snapshot) -> str:
        """News or the newest refusal, whichever came last."""
        if snapshot.news != self._news:
            self._news = self._latest = snapshot.news
        if snapshot.remarks and snapshot.remarks[-1] is not self._remark:
            self._remark = snapshot.remarks[-1]
            self._latest = self._remark.text
        if snapshot.outcome is not None and snapshot.outcome != self._outcome:
            self._outcome = done = snapshot.outcome
            self._latest = words.outcome(done.asked, done.how, done.t_s, done.why)
            if snapshot.news and done.how in ("done", "over", "real"):
                self._latest = snapshot.news  # a test's result says more
        return self._latest

    def _hint(self) -> None:
        line = self.query_one("#typed", Input)
        line.placeholder = (
            "a note; Enter" if self.noting
            else "Enter, then 80, hold now, up 2, stay, back 2, follow, sweep 20 90, replay NAME"
        )  # fmt: skip

    @on(Input.Submitted, "#typed")
    def typed(self, event: Input.Submitted) -> None:
        text, event.input.value = event.value.strip(), ""
        noting, self.noting = self.noting, False
        self._hint()
        self.set_focus(None)
        if not text:
            return
        if noting:
            self.desk.mark("note", 0.0, text)
            return
        glance = self.desk.snapshot().glance
        try:
            act = act_of(text, self.settings.unit, glance.told_c if glance else None)
        except LocumError as error:
            self.tell("refusal", str(error))
            return
        self.tell("refusal", f"asked: {act.words or act.name}; waits for the board")
        self.desk.ask(act.name, *act.arguments, words=act.words)

    def action_type(self) -> None:
        self.noting = False
        self._hint()
        self.query_one("#typed", Input).focus()

    def action_note(self) -> None:
        self.noting = True
        self._hint()
        self.query_one("#typed", Input).focus()

    def action_follow(self) -> None:
        self.desk.ask("follow", words="")

    def action_offer(self, name: str) -> None:
        for offer in self.desk.snapshot().offers:
            if offer.name == name:
                self.tell(
                    "refusal",
                    f"asked: {words.degrees(offer.celsius, self.settings.unit)}, {offer.why}",
                )
                self.desk.ask("hold", f"{offer.celsius:.1f}C", words=offer.why)

    def action_give(self) -> None:
        """The glitch that was kept last."""
        name = self.desk.snapshot().captured
        if not name:
            self.tell("refusal", "No glitch is kept yet. 3 Evidence: Enter on one keeps it.")
            return
        self.tell("refusal", f"asked: {name}; waits for the board")
        self.desk.ask("glitch", (name,), words=f"captured glitch {name}")

    def action_felt(self, yes: bool) -> None:
        self.desk.ask("felt", yes)

    def action_extend(self) -> None:
        self.desk.ask("extend")

    def action_leaf(self, pages: int) -> None:
        self.query_one(River).leaf_page(pages)

    def action_new_recording(self) -> None:
        self.locum.reopen(self.desk.setup)

    def action_detail(self) -> None:
        detail = self.query_one("#detail")
        detail.display = not detail.display
        self.tell("detail", detail_text(self.desk.snapshot()) if detail.display else "")


def detail_text(snapshot: Snapshot) -> str:
    """Voltages, ohms, the plan's step; nothing of it while an unseen test runs."""
    g = snapshot.glance
    if g is None:
        return "nothing measured yet"
    if snapshot.hidden:
        return "not shown while the unseen test runs"
    return (
        f"line {g.node_v:.3f} V   told {words.ohms(g.told_ohm)}   real {words.ohms(g.true_ohm)}   "
        f"step {g.step + 1 if g.steps else 0} of {g.steps}\nboard {words.STATE[g.state]}   "
        f"glitches {g.glitches}   lost records {g.lost}   supply {words.SUPPLY.get(g.supply, g.supply)}"
    )
