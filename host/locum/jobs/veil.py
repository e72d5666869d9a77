"""While an unseen swap test runs: what is left of a snapshot when nothing may tell which is connected.

The facts are taken out before any screen gets them, so that no screen, help or plain line can tell
them by mistake. Told and true are both left out: either of them, beside the other or beside what
was seen before, would give the connection away; so would the time left, the board's own state and
the glitches, of which a kick-out follows only those that the module sees.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from locum.jobs.glance import Glance
from locum.jobs.lines import Event, Line

if TYPE_CHECKING:
    from locum.jobs.desk_facts import Snapshot

TOLD = ("kick_out", "mark", "gap")
"""Kinds of event that are shown all the same: what the driver himself noticed."""


def veiled(snapshot: Snapshot) -> Snapshot:
    """The snapshot without anything that could tell; unchanged when nothing is hidden."""
    if not snapshot.hidden:
        return snapshot
    glance = veiled_glance(snapshot.glance) if snapshot.glance else None
    return replace(
        snapshot, glance=glance, lines=tuple(veiled_line(line) for line in snapshot.lines),
        doing="swap", offers=(), captured="", remarks=(),
        asks_felt="hidden" if snapshot.asks_felt else "",
    )  # fmt: skip


def veiled_glance(glance: Glance) -> Glance:
    """A glance of the real sensor at rest about which nothing is known."""
    return replace(
        glance, state="rest", source="real", following=False, contact="through", cause="",
        told_ohm=None, told_c=None, true_ohm=None, true_c=None, node_v=float("nan"),
        releases=0, glitches=0, last_glitch_s=None, standing_left_s=-1, step=0, steps=0,
    )  # fmt: skip


def veiled_line(line: Line) -> Line:
    events = tuple(veiled_event(e) for e in line.events if e.kind in (*TOLD, "release"))
    return replace(line, source="real", following=False, told_c=None, true_c=None, events=events)


def veiled_event(event: Event) -> Event:
    """A release without its cause: "by our changeover" would tell."""
    return replace(event, detail="") if event.kind == "release" else event
