"""Leaving: asked about only while the stand-in is connected, and waiting for the way back to end."""

from __future__ import annotations

import time

from textual.timer import Timer

from locum.jobs.desk import Desk
from locum.jobs.desk_facts import Snapshot
from locum.ui.key_order import KeyOrder

PATIENCE_S, CLOSING_S = 1.0, 15.0
"""So long a board may take to answer, and a long record to be finished, before the screens go. [s]"""
ASKED_S = 10.0
LEAVING = """\
LEAVE?  {why}  Space: real sensor at once, and stay
y within 10 s: ease back and leave   any other key: stay; nothing changes"""
LEAVING_KEYS = (
    ("space", "REAL SENSOR NOW"),
    ("y", "ease back and leave"),
    ("any other key", "stay"),
)


class Leaving(KeyOrder):
    """An application that says things over every place, and goes home before it goes."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.said = ""
        """What the program has to say now, over whatever place is in view."""
        self._silence: Timer | None = None
        self._leaving_since: float | None = None

    def look(self) -> None:
        """Show what is said now."""

    def say(self, text: str, for_s: float) -> None:
        """Tell this over whatever place is in view, for so long or until something else is told."""
        self.said = text
        if self._silence is not None:
            self._silence.stop()
        self._silence = self.set_timer(for_s, self._hush) if text else None
        self.look()

    def _hush(self) -> None:
        self.only_keys = ()
        self.say("", 0.0)

    def may_go(self, snapshot: Snapshot) -> bool:
        """Whether somebody wants to leave and the way back has ended, or nothing answers any more."""
        if self._leaving_since is None:
            return False
        if snapshot.phase in ("ended", "lost", "failed", "closed"):
            return True
        patience = CLOSING_S if snapshot.phase == "closing" else PATIENCE_S
        patient = time.monotonic() - self._leaving_since < patience
        away = self.desk.told.glance is not None and self.desk.told.glance.standing_in
        return not patient and not away

    def action_leave(self) -> None:
        """Leave; while the stand-in is connected, or nobody may know, a ``y`` must follow."""
        snapshot = self.desk.snapshot()
        standing_in = snapshot.glance is not None and snapshot.glance.standing_in
        if snapshot.phase == "recording" and (standing_in or snapshot.hidden):
            self.only_keys = LEAVING_KEYS
            why = "An unseen test runs." if snapshot.hidden else "The stand-in is connected."
            self.say(LEAVING.format(why=why), ASKED_S)
            return
        self._leave()

    def answer_question(self, key: str) -> None:
        """``y`` leaves, Space, Escape and a second Ctrl-C bring the real sensor, any other key stays."""
        self._hush()
        if key == "y":
            self.say("Easing back to the real sensor, then leaving. Space: at once.", 20.0)
            self._leave()
        elif key in ("space", "escape", "ctrl+c"):
            self.desk.real_sensor_now()

    def _leave(self) -> None:
        self._leaving_since = time.monotonic()
        self.desk.leave()
