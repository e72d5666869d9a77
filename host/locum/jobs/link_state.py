"""What there is to say about the link of a running recording: one fact, three sentences.

For whoever shows a recording (commands, ``--plain``, screens): ``live.link`` is always a
:class:`LinkState`, made new at every tick; nothing has to be asked of the board. ::

    link = live.link
    link.connection     "connected" | "lost" | "adopted" | "restarted"
    link.happened       "The board does not answer: the other end has closed."
    link.board_does     "It holds its last value for 3 s, then eases back by itself ..."
    link.what_next      "It is looked for once a second ..."
    link.text           the three together; empty while all is well
    link.lost           True while there is no board to talk to

While ``lost``, a tick never raises for the link: it waits, looks once a second for the board (by its
serial number, also under a renumbered port) and returns empty findings; ``live.glance()`` keeps the
last values known. ``board.real_sensor_now()`` and ``board.ease_back()`` may be called then: they are
remembered and are the first thing the board hears. Every other order raises LinkTrouble.
``adopted`` and ``restarted`` stay for ``SHOWN_S``, then it is ``connected`` again; what was said
stays in ``live.link_remarks`` and in the casebook. ``live.give_up_s`` (None: never) is how long a
recording looks for its board before it ends with LinkTrouble.
"""

from __future__ import annotations

from dataclasses import dataclass

from locum.link.adopt import Adoption
from locum.link.answers import Status

SHOWN_S = 60.0
"""How long a board that was taken up again is told about. [s]"""
HELD_S = 3
"""A silent computer is waited for so long by the board before it goes home. [s]"""


@dataclass(frozen=True)
class LinkState:
    """The link now. Empty sentences while all is well."""

    connection: str = "connected"
    """``connected``, ``lost`` (looked for), ``adopted`` (the running board was taken up again) or
    ``restarted`` (found again, but it had started anew)."""
    since_s: float = 0.0
    """Without the board: so far while lost, altogether afterwards. [s]"""
    slept_s: float = 0.0
    """Of these the computer was asleep for so long; 0 if it was not. [s]"""
    happened: str = ""
    board_does: str = ""
    """What the board does meanwhile, or did."""
    what_next: str = ""
    """What happens next, and what a person can do."""
    place: str = ""
    """Port or path the board is on, or was on last."""

    @property
    def lost(self) -> bool:
        return self.connection == "lost"

    @property
    def text(self) -> str:
        return " ".join(part for part in (self.happened, self.board_does, self.what_next) if part)


def board_meanwhile(last: Status, runs_on: bool, since_s: float) -> str:
    """What a board does on its own, by what it was doing when it was last heard.

    ``runs_on``: its plan was sent with ``on_silence = "finish"``.
    """
    if last.state in ("rest", "ready"):
        return "The real sensor is connected, and the board goes on recording by itself."
    if last.state == "tripped":
        return "The real sensor is connected; the board has tripped and stays so."
    unpowered = "If it has no power, the real sensor is connected."
    if runs_on and last.state == "running":
        return (
            "With power it plays its plan to the end and eases back by itself; all its limits hold. "
            + unpowered
        )
    if last.state == "returning":
        return "It was easing back and goes on with that; then the real sensor is connected."
    if since_s < HELD_S:
        return f"It holds its value for {HELD_S} s, then eases back by itself. {unpowered}"
    if since_s < HELD_S + 22:
        return f"It eases back to the real sensor by itself, within 20 s. {unpowered}"
    return "By now the real sensor is connected: the board has eased back by itself."


def looking(give_up_s: float | None, wish: str) -> str:
    """What happens next while there is no board."""
    ways = "It is looked for once a second: plug it in again, any port will do."
    if wish:
        ways += " The real sensor is asked for as soon as it answers."
    if give_up_s is not None:
        ways += (
            f" After {give_up_s / 60:.0f} min the recording is closed; nothing recorded is lost."
        )
    return ways


def did_meanwhile(adoption: Adoption) -> str:
    """What a board did while nobody listened, by how it was found."""
    gap = adoption.gap
    if gap.restarted:
        did = "It has started anew meanwhile and the real sensor is connected."
        return did + " What it had recorded since it was last heard is lost."
    if adoption.verdict == "ended":
        did = "It has eased back by itself: the real sensor is connected."
        if gap.state_after == "returning":
            did = "It is easing back to the real sensor by itself."
        if gap.state_after == "tripped":
            did = "It has let the real sensor back in by itself and says that it has tripped."
    elif gap.state_after in ("rest", "ready", "tripped"):
        did = "The real sensor was connected all the time."
    elif gap.state_after == "running":
        did = "It went on with its plan."
    else:
        did = "It stood in all the time."
    if gap.records_lost:
        return f"{did} {gap.records_lost} records did not fit into its memory and are lost."
    return did + " Everything it recorded meanwhile is fetched now."


def goes_on(adoption: Adoption) -> str:
    """What happens next with a board that was found again."""
    if adoption.verdict in ("restarted", "ended"):
        return "Start again what you want it to be."
    if adoption.verdict == "watch":
        return "It is only watched: end what it does with 'real sensor now' before anything else."
    return "The recording goes on."
