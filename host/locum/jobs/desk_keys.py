"""Keys that do not queue: looked for at every tick, also in the middle of another act.

Marks and answers are kept at once; the two ways back end whatever is being done; and what is asked for
while something long runs is not left waiting to connect the stand-in when nobody expects it any more.
"""

from __future__ import annotations

import queue
from contextlib import suppress
from typing import TYPE_CHECKING

from locum.errors import LocumError
from locum.jobs import desk_acts, standing

if TYPE_CHECKING:
    from locum.jobs.desk_session import Session

KEPT_REMARKS = 20
BUSY = {
    "swap": "Not done: the unseen test runs. Space ends it; then ask again.",
    "calibrate": "Not done: the board is being calibrated. Space stops that; then ask again.",
}
"""What is told when something else is asked for meanwhile."""


class Stopped(Exception):
    """An urgent key ended the act in progress."""


def serve(session: Session) -> None:
    """Everything that was pressed since the last tick. Raises Stopped where an act is to end."""
    serve_quick(session)
    serve_urgent(session)
    serve_impatient(session)


def serve_quick(session: Session) -> None:
    """Marks and answers do not wait for the act in progress to end."""
    desk = session.desk
    while True:
        try:
            asked = desk.quick.get_nowait()
        except queue.Empty:
            return
        try:
            desk_acts.perform(session, session.live, asked.name, asked.arguments, asked.words)
        except LocumError as error:
            session.show(remarks=(*desk.told.remarks, *error.remarks)[-KEPT_REMARKS:])


def serve_urgent(session: Session) -> None:
    """Ease back, or the real sensor now: sent at once. Raises Stopped after it."""
    urgent = session.desk.take_urgent()
    if not urgent:
        return
    live = session.live
    was_away = not standing.at_rest(live)
    if urgent == "now" or live.status.state not in ("holding", "running"):
        live.board.real_sensor_now()
        session.note("connected", "real sensor now")
    else:
        live.board.ease_back()
        session.note("connected", "easing back")
    live.hidden = False
    if was_away:
        live.stretch("real")
    raise Stopped


def serve_impatient(session: Session) -> None:
    """What is asked for during a long act must not connect the stand-in when that ends, half an hour
    later: glitches give way to it, what would lose its worth by that turns it away."""
    desk = session.desk
    doing = desk.told.doing
    if doing not in desk_acts.LONG or desk.asked.empty():
        return
    if doing == "glitch":
        raise Stopped
    with suppress(queue.Empty):
        while True:
            desk.asked.get_nowait()
    session.show(news=BUSY[doing])
