"""One recording with one board, served to a desk: acts, urgent keys, running lines, questions.

Everything in here runs in the desk's worker thread. A session lives from opening a board to its
closing; the desk begins the next one with another setup, or when a lost board answers again.
"""

from __future__ import annotations

import queue
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from locum.errors import LinkTrouble, LocumError, Remark
from locum.jobs import desk_acts, desk_keys, standing
from locum.jobs.capture_kept import newest_kept
from locum.jobs.circuit import Circuit
from locum.jobs.desk_facts import Outcome, on_the_way
from locum.jobs.desk_keys import KEPT_REMARKS, Stopped
from locum.jobs.desk_refusing import Before, connected, goes_on
from locum.jobs.lines import Event, Lines
from locum.jobs.live import Live
from locum.jobs.log import logger
from locum.jobs.offers import offers_of
from locum.review.causes import KEEP_MS
from locum.review.findings import Findings

if TYPE_CHECKING:
    from locum.jobs.desk import Desk

TICK_S = 0.1
SHOWN_LINES = 400
KEPT_OUTCOMES = 8
"""More cannot come between two looks."""
WORTH_ASKING_S = 20.0
"""A stretch shorter than this is not asked about. [s]"""


class DeskLive(Live):
    """A recording whose every tick also serves the desk."""

    session: Session | None = None
    hidden = False
    """An unseen swap test runs: nothing may tell which is connected."""

    def tick(self, seconds: float = TICK_S) -> Findings:
        found = super().tick(min(seconds, TICK_S))
        if self.session is not None:
            self.session.after_tick(found)
        return found

    def warn(self, *remarks: Remark) -> None:
        super().warn(*remarks)
        if self.session is not None:
            told = self.session.desk.told.remarks
            new = [remark for remark in remarks if remark not in told]
            self.session.show(remarks=(*told, *new)[-KEPT_REMARKS:])

    def stretch(self, connected: str, foot: str = "normal", plan: dict | None = None) -> int:
        number = super().stretch(connected, foot, plan)
        if self.session is not None:
            self.session.stretch_began(number, connected, "boundary" not in (plan or {}))
        return number


class Session:
    """One recording; made by ``desk_opening.opened``."""

    def __init__(self, desk: Desk, live: DeskLive, plain_circuit: Circuit) -> None:
        self.desk = desk
        self.live = live
        self.plain_circuit = plain_circuit
        """As told, without any calibration."""
        self.settings = desk.settings
        self.show = desk.show
        self._lines = Lines()
        self._shown: tuple = ()
        self._notes: list[Event] = []
        self._stretch: tuple[int, str, float, bool] = (0, "real", 0.0, True)
        self.goal: tuple[float, str] | None = None
        """Where a hold walks to, and its words; None when it walks nowhere. [degC]"""
        self.felt: dict[int, bool] = {}
        """Stretch -> whether something was felt in it, as answered."""
        self.asked_about = -1
        """Number of the stretch that the open question is about."""

    @property
    def setup(self):
        return self.desk.setup

    # -- the loop --------------------------------------------------------------------------------

    def serve(self) -> None:
        """Perform what is asked for until the desk wants out."""
        self.look_for_offers()
        while not self.desk.wants_out(standing.at_rest(self.live)):
            self._one_act()

    def _one_act(self) -> None:
        try:
            asked = self.desk.asked.get_nowait()
        except queue.Empty:
            asked = None
        before = self._before()
        try:
            if asked is None:
                self.live.tick()
                if standing.at_rest(self.live) and self.desk.told.doing != "listen":
                    self.show(doing="listen", doing_words="")
                    self._over()
            else:
                if asked.name not in desk_acts.QUIET:
                    self.goal = None
                    self._became("begun", asked.words or asked.name)
                desk_acts.perform(self, self.live, asked.name, asked.arguments, asked.words)
                if asked.name in (*desk_acts.LONG, "contact"):
                    self._became("done" if asked.name in ("glitch", "contact") else "over")
        except Stopped:
            self._became("ended")
            self.goal = None  # what is being done stays until the real sensor is connected
            self.show(foot="")
        except LinkTrouble as trouble:
            if not self.live.link.lost:
                self._broke_on_the_way(trouble)
            self._refused(trouble, before)
        except LocumError as error:
            self._refused(error, before)

    def _before(self) -> Before:
        told = self.desk.told
        stands = connected(self.live, self._stretch[0])
        return Before(stands, told.doing, told.doing_words, self.goal)

    def _broke_on_the_way(self, trouble: LinkTrouble) -> None:
        """The link went while an order was on its way: nobody knows whether the board heard it, so
        the real sensor is the first thing that is asked of it when it answers again.

        Raises ``trouble`` where there is no second way to the board.
        """
        self.live.tether.broke(trouble)
        self.live.board.real_sensor_now()

    def _refused(self, error: LocumError, before: Before) -> None:
        logger().info("refused: %s", error)
        told = self.desk.told.remarks
        notes = [note for note in error.notes if note not in told]
        self.show(foot="", remarks=(*told, *notes, *error.remarks)[-KEPT_REMARKS:])
        why = " ".join(remark.text for remark in error.remarks)
        if goes_on(error, before, self.live, self._stretch[0]):
            self.goal = before.goal
            self.show(doing=before.doing, doing_words=before.doing_words)
            self._became("kept", why=why)
            return
        lost = self.live.link.lost
        self.show(doing="listen", doing_words="")
        self._became("lost" if lost else "refused", why=why)
        if not standing.at_rest(self.live) and not lost:
            self.live.board.real_sensor_now()
            self.note("connected", "real sensor now, for what was refused")
            self.live.stretch("real")

    def _became(self, how: str, asked: str = "", why: str = "") -> None:
        """What became of the newest request; of one that is over nothing more is said."""
        before = self.desk.told.outcome
        asked = asked or (before.asked if before and before.how in ("begun", "done") else "")
        if asked:
            self._came(Outcome(asked, how, self.live.now_ms / 1000, why))

    def _came(self, outcome: Outcome) -> None:
        earlier = self.desk.told.outcomes[1 - KEPT_OUTCOMES :]
        self.show(outcomes=(*earlier, outcome))

    def _over(self) -> None:
        before = self.desk.told.outcome
        if before and before.how in ("begun", "done", "ended"):
            self._came(Outcome(before.asked, "real", self.live.now_ms / 1000))

    def after_tick(self, found: Findings) -> None:
        """Serve urgent keys, add lines, publish. Raises Stopped where a key ended an act."""
        glance = self.live.glance()
        more, self._notes = tuple(self._notes), []
        if self._lines.take(glance, found, more):
            self._shown = tuple(self._lines.rows)[-SHOWN_LINES:]
        changes: dict[str, Any] = {
            "glance": glance, "lines": self._shown, "ticks": self.desk.told.ticks + 1,
            "hidden": self.live.hidden, "trouble_words": self.live.link.text,
            "phase": "lost" if self.live.link.lost else "recording", "circuit": self.live.circuit,
        }  # fmt: skip
        if self.goal is not None and glance.told_c is not None:
            changes["doing_words"] = on_the_way(self.goal, glance.told_c)
        new = [r for r in found.releases if r.kick_out]
        if new:
            event = Event(new[-1].t_ms / 1000, "kick_out", new[-1].from_state)
            changes |= {"awaits_answer": True, "last_kick_out": event}
        elif self._too_late_to_answer():
            changes["awaits_answer"] = False
        self.show(**changes)
        if new:
            self.desk.on_kick_out()
        desk_keys.serve(self)

    def _too_late_to_answer(self) -> bool:
        """An answer counts for so long after the kick-out; asked for longer, it would belong to none."""
        kick = self.desk.told.last_kick_out
        return kick is not None and self.live.now_ms > kick.t_s * 1000 + KEEP_MS

    def note(self, kind: str, words: str) -> None:
        """Add an event of our own to the running lines."""
        self._notes.append(Event(self.live.now_ms / 1000, kind, words))

    # -- anything felt? --------------------------------------------------------------------------

    def stretch_began(self, number: int, connected: str, driven: bool = True) -> None:
        """The one before has ended: ask whether anything was felt in it.

        ``driven``: False for a boundary between two stretches, which nobody is asked about.
        """
        before, was, since_s, asked = self._stretch
        now_s = self.live.now_ms / 1000
        self._stretch = (number, connected, now_s, driven)
        if asked and now_s - since_s >= WORTH_ASKING_S:
            self.asked_about = before
            self.show(asks_felt=was)

    def answer_felt(self, felt: bool) -> None:
        """Kept with the stretch that was asked about, else as a mark of now."""
        live = self.live
        if self.asked_about >= 0:
            live.store.answer(live.drive_id, self.asked_about, felt)
            self.felt[self.asked_about] = felt
        live.mark("felt" if felt else "not_felt")
        self.asked_about = -1
        self.show(asks_felt="")

    # -- offers ----------------------------------------------------------------------------------

    def look_for_offers(self) -> None:
        """Values worth telling the module, and the glitch that was kept last for the case."""
        glance, case_id = self.live.glance(), self.desk.told.case_id
        offers = offers_of(
            self.live.store, case_id, self.live.circuit, self.setup.sensor, glance.true_c
        )
        captured = newest_kept(self.live.store, case_id) or self.desk.told.captured
        self.show(offers=offers, captured=captured)

    # -- the end ---------------------------------------------------------------------------------

    def finish(self, how: str) -> None:
        """Real sensor if it can still be had, and the record closed."""
        live = self.live
        live.session = None
        try:
            if how != "link_lost" and live.board.fetch().source != "real":
                live.board.real_sensor_now()
        except LinkTrouble:
            how = "link_lost"
        seen = self.desk.told.glance
        if seen is not None and how != "link_lost":
            self.show(glance=replace(seen, source="real", state="rest"))
        self.show(phase="closing", doing="")
        live.end(how)
