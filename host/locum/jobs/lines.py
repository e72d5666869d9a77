"""The running lines: time runs downwards, one line every few seconds, plain facts in each.

The screens draw them, ``--plain`` prints them; both from here, so that they cannot differ.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from locum.jobs.glance import Glance
from locum.review.findings import Findings

EVERY_S = 2.0
KEPT = 5400


@dataclass(frozen=True)
class Event:
    """Something that happened, for one line."""

    t_s: float
    kind: str
    """kick_out, release, glitch, injected, mark, connected, trip, chatter, gap."""
    words: str = ""
    detail: str = ""


@dataclass(frozen=True)
class Line:
    """A few seconds of recording."""

    t_s: float
    source: str
    following: bool
    told_c: float | None
    true_c: float | None
    commanded: str
    held: bool
    events: tuple[Event, ...] = ()


@dataclass
class Lines:
    """The newest lines of a recording; older ones are in the casebook."""

    rows: deque[Line] = field(default_factory=lambda: deque(maxlen=KEPT))
    _waiting: list[Event] = field(default_factory=list)
    _next_s: float = 0.0

    def take(self, glance: Glance, found: Findings, more: tuple[Event, ...] = ()) -> list[Line]:
        """Take in one tick; the lines that became complete."""
        self._waiting += [*events_of(found), *more]
        if glance.t_s < self._next_s and not more:  # what a person did is told at once
            return []
        self._next_s = glance.t_s + EVERY_S
        line = Line(glance.t_s, glance.source, glance.following, glance.told_c, glance.true_c,
                    glance.commanded, glance.held, tuple(sorted(self._waiting, key=lambda e: e.t_s)))  # fmt: skip
        self._waiting = []
        self.rows.append(line)
        return [line]


def events_of(found: Findings) -> list[Event]:
    """What review found certain in one tick, as events."""
    events = [
        Event(r.t_ms / 1000, "kick_out" if r.kick_out else "release", r.from_state,
              r.cause_detail or r.cause)
        for r in found.releases if not r.repeat
    ]  # fmt: skip
    events += [
        Event(g.t_ms / 1000, "glitch", g.towards, f"{g.length_ms:.0f} ms, {g.depth_k:.0f} K")
        for g in found.glitches if not g.ours
    ]  # fmt: skip
    events += [
        Event(i.t_ms / 1000, "injected", i.kind, f"{i.length_ms} ms") for i in found.injections
    ]
    events += [Event(t / 1000, "mark", kind) for t, kind in found.marks]
    events += [Event(t / 1000, "chatter", f"line {number}") for t, number in found.chatter]
    return events
