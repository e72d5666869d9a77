"""What the line-by-line mode tells by itself: what happened or changed since the last look."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import takewhile

from locum.jobs.desk import Desk
from locum.jobs.desk_facts import Outcome, Snapshot
from locum.jobs.lines import Line
from locum.ui import words
from locum.ui.asking import asking_text
from locum.ui.calibrate_text import look_text
from locum.ui.plain_instead import in_lines
from locum.ui.widgets.facts import facts_of
from locum.ui.widgets.running import plain_line

EVERY_S = 10.0
FIGURES = re.compile(r"\d+")
"""A countdown is no news."""


def lines_since(before: Snapshot, now: Snapshot) -> list[Line]:
    """The running lines that came between two looks, oldest first; all of a new recording."""
    last = before.lines[-1] if before.lines else None
    return list(takewhile(lambda line: line is not last, reversed(now.lines)))[::-1]


def outcomes_since(before: Snapshot, now: Snapshot) -> list[Outcome]:
    """What became of requests between two looks, oldest first."""
    last = before.outcomes[-1] if before.outcomes else None
    return list(takewhile(lambda done: done is not last, reversed(now.outcomes)))[::-1]


class Telling:
    """Says each thing once."""

    def __init__(self, desk: Desk, unit: str, say: Callable[[str], None]) -> None:
        self.desk = desk
        self.unit = unit
        self.say = say
        self.every_s = EVERY_S
        """A running line at least so often. [s]"""
        self._told: Snapshot = desk.snapshot()
        self._line: Line | None = None

    def look(self) -> None:
        """Tell what is new since the last look."""
        now, before = self.desk.snapshot(), self._told
        self._told = now
        if now.phase != "ended":
            self._tell_phase(now, before)
        if now.trouble_words and now.trouble_words != before.trouble_words:
            self.say(now.trouble_words)
        if now.news and now.news != before.news:
            self.say(now.news)
        self._tell_calibration(now, before)
        for remark in now.remarks:
            if remark not in before.remarks:
                self.say(remark.text)
        for done in outcomes_since(before, now):
            self._tell_outcome(done)
        self._tell_connected(now, before)
        self._tell_record(now, before)
        asked = asking_text(now)
        if asked and asked != asking_text(before):
            self.say(in_lines(asked))
        for line in lines_since(before, now):
            self._tell_line(line, now.hidden)
        if now.phase == "ended":  # the last word
            self._tell_phase(now, before)

    def _tell_outcome(self, done: Outcome) -> None:
        """Why something was refused has been told with its remark; what that leaves is told here."""
        if done.how not in ("refused", "lost"):
            why = "" if done.how == "kept" else done.why
            self.say(words.outcome(done.asked, done.how, done.t_s, why).rstrip())

    def _tell_calibration(self, now: Snapshot, before: Snapshot) -> None:
        """What becomes of it, and how far it is at each quarter."""
        look, was = now.calibration, before.calibration
        if look is None:
            return
        quarter = 4 * look.done // look.total if look.total else 0
        before_quarter = 4 * was.done // was.total if was and was.total else -1
        if was is None or look.phase != was.phase or quarter != before_quarter:
            self.say(in_lines(look_text(look, self.unit)))

    def _tell_phase(self, now: Snapshot, before: Snapshot) -> None:
        if now.phase != before.phase:
            board = "VIRTUAL BOARD" if now.virtual else now.board
            on = f" on {board}" if now.phase == "recording" else ""
            left = facts_of(now, self.unit).means if now.phase == "ended" else ""
            self.say(f"{words.PHASE[now.phase]}{on}" + (f"; {left}" if left else ""))

    def _tell_record(self, now: Snapshot, before: Snapshot) -> None:
        """A record that cannot be written, and one that can be again."""
        if now.glance is None or now.phase != "recording":
            return
        was = before.glance.unsaved if before.glance else ""
        if now.glance.unsaved and now.glance.unsaved != was:
            facts = facts_of(now, self.unit)
            self.say(f"{facts.record}; {facts.next}")
        elif was and not now.glance.unsaved:
            self.say("The record is written down again.")

    def _tell_connected(self, now: Snapshot, before: Snapshot) -> None:
        if now.glance is None:
            return
        facts, was = facts_of(now, self.unit), facts_of(before, self.unit)
        said, before_said = (f"{f.connected}: {f.means}" for f in (facts, was))
        if now.phase == "recording" and FIGURES.sub("", said) != FIGURES.sub("", before_said):
            self.say(said)

    def _tell_line(self, line: Line, hidden: bool) -> None:
        last = self._line
        new = last is None or line.events or line.commanded != last.commanded
        if new or line.t_s - last.t_s >= self.every_s or line.t_s < last.t_s:  # type: ignore[union-attr]
            self._line = line
            self.say(plain_line(line, self.unit, hidden=hidden))
