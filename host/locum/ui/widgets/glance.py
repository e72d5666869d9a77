"""The glance: six things, readable at arm's length."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from locum.jobs.desk import Snapshot
from locum.jobs.glance import Glance
from locum.ui import words


class Glimpse(Vertical):
    """Connected, told and true, commanded, last kick-out, minutes left, record safe."""

    def __init__(self, unit: str = "celsius", **kwargs) -> None:
        super().__init__(**kwargs)
        self.unit = unit

    def compose(self) -> ComposeResult:
        with Horizontal(id="glance-top"):
            yield Static("", id="connected")
            yield Static("", id="means")
        with Horizontal(id="glance-middle"):
            yield Static("", id="told")
            yield Static("", id="true")
            yield Static("", id="commanded")
        with Horizontal(id="glance-low"):
            yield Static("", id="kicks")
            yield Static("", id="left")
            yield Static("", id="safe")

    def show(self, snapshot: Snapshot) -> None:
        glance = snapshot.glance
        if glance is None or snapshot.phase == "lost":
            self._set("connected", words.PHASE[snapshot.phase].upper())
            self._set("means", words.LOST_MEANS if snapshot.phase == "lost" else "")
            return
        hidden = snapshot.hidden
        source = "NOT SHOWN" if hidden else words.SOURCE[glance.source]
        self._set("connected", source)
        self.set_class(glance.standing_in and not hidden, "standing")
        self._set("means", self._means(snapshot, glance))
        self._set("told", f"told  {'--' if hidden else words.degrees(glance.told_c, self.unit)}")
        self._set("true", f"true  {'--' if hidden else words.degrees(glance.true_c, self.unit)}")
        self._set("commanded", glance.commanded or "no lines watched")
        since = None if glance.last_kick_out_s is None else glance.t_s - glance.last_kick_out_s
        self._set("kicks", f"kick-outs {glance.kick_outs}, last {words.ago(since)}")
        self._set("left", self._left(glance))
        self._set("safe", self._safe(glance))

    def _means(self, snapshot: Snapshot, glance: Glance) -> str:
        if snapshot.hidden:
            return "unseen swap test: told after its end"
        if glance.state == "tripped":
            return f"LET GO: {words.CAUSE_OF_TRIP.get(glance.cause, glance.cause)}"
        if glance.contact != "through":
            return words.CONTACT[glance.contact]
        doing = words.DOING.get(snapshot.doing, "")
        if glance.state == "returning":
            return words.STATE["returning"]
        if not glance.standing_in:
            return words.SOURCE_MEANS["real"]
        return f"{doing} {snapshot.doing_words}".strip()

    def _left(self, glance: Glance) -> str:
        counted = f"counts {glance.exposed_s / 60:.0f} min"
        if glance.standing_left_s < 0:
            return counted
        return f"{counted}, ends in {glance.standing_left_s / 60:.0f}"

    def _safe(self, glance: Glance) -> str:
        if glance.trouble:
            return "RECORD WAITS: " + glance.trouble
        return f"record safe {glance.saved_behind_s:.1f} s"

    def _set(self, name: str, text: str) -> None:
        widget = self.query_one(f"#{name}", Static)
        if str(widget.content) != text:
            widget.update(text)
