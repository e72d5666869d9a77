"""The unseen swap test at the desk: drawn, sealed and revealed as ``locum swap`` does it.

While it runs the recording says ``hidden`` and the desk takes out of every snapshot what could tell
(``veil.py``); only how to hold the foot is shown. An urgent key ends it: what was driven until then is
revealed and kept.
"""

from __future__ import annotations

import secrets
from dataclasses import replace
from typing import TYPE_CHECKING

from locum.jobs import standing
from locum.jobs.errand import Errand
from locum.jobs.interrupts import Interrupts
from locum.jobs.live import Live
from locum.jobs.swap_draw import REPLAY, Draw, draw, known_of
from locum.jobs.swapping import SwapResult, UnseenTest

if TYPE_CHECKING:
    from locum.jobs.desk_session import DeskLive, Session

STRETCHES, MINUTES, CHANCE = 4, 10.0, 0.9
KIND = "swap"


def swap(
    session: Session, live: Live, stretches: int = STRETCHES, minutes: float = MINUTES
) -> None:
    """Drive the stretches unseen; a recording of another kind is closed and one of its own begun."""
    options = {"case": session.desk.told.case_id, "casebook": session.desk.casebook}
    drawn = draw(stretches, minutes, None, CHANCE, secrets.randbits(63), REPLAY, known_of(options))
    if session.setup.kind != KIND:
        _begin_its_own(session, stretches, minutes)
        return
    result = SwapResult(KIND, live.drive_id, 0.0)
    test = UnseenTest(drawn, options, result)
    job = Errand(live, live.circuit, Interrupts(), result)
    test.seal()
    session.show(news=f"Draw sealed: {drawn.plan.seal}. Which is connected is told after the end.")
    try:
        _drive(session, session.live, job, test, drawn)
    finally:
        session.live.hidden = False
        test.reveal(job)
        session.show(hidden=False, test_over_s=None, foot="", news=result.sentence)


def _begin_its_own(session: Session, stretches: int, minutes: float) -> None:
    from locum.jobs.desk import Asked

    act = Asked("swap", (stretches, minutes), f"{stretches} stretches of {minutes:g} min")
    session.desk.reopen(replace(session.setup, kind=KIND), act)


def _drive(session: Session, live: DeskLive, job: Errand, test: UnseenTest, drawn: Draw) -> None:
    test.prepare(job)
    live.hidden = True
    rows = test.result.stretches
    over_s = live.now_ms / 1000 + drawn.length_s  # set once: a boundary that took longer would tell
    for number, one in enumerate(drawn.plan.stretches, 1):
        session.show(
            hidden=True, foot=one.foot, test_over_s=over_s,
            doing_words=f"stretch {number} of {len(drawn.plan.stretches)}",
        )  # fmt: skip
        before = rows[-1].stretch if rows else -1
        test.stretch(job, number, lambda before=before: session.felt.pop(before, None))
    if not standing.at_rest(live):
        standing.home(live)
