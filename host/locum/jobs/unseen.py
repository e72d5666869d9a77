"""The unseen swap test at the desk: drawn, sealed and revealed as ``locum swap`` does it.

While it runs the recording says ``hidden`` and the desk takes out of every snapshot what could tell
(``veil.py``); only how to hold the foot is shown. An urgent key ends it: what was driven until then is
revealed and kept.
"""

from __future__ import annotations

import secrets
from dataclasses import replace
from typing import TYPE_CHECKING

from locum.jobs import standing, swapping
from locum.jobs.errand import Errand
from locum.jobs.interrupts import Interrupts
from locum.jobs.live import Live
from locum.jobs.swap_draw import MINUTES
from locum.jobs.swapping import SwapResult, UnseenTest

if TYPE_CHECKING:
    from locum.jobs.desk_session import Session

STRETCHES = 4
KIND = "swap"


def swap(
    session: Session, live: Live, stretches: int = STRETCHES, minutes: float = MINUTES
) -> None:
    """Drive the stretches unseen; a recording of another kind is closed and one of its own begun."""
    from locum.jobs.desk import Asked

    if session.setup.kind != KIND:
        plan = swapping.draw(stretches, minutes, None, 0.9, 1).plan  # refused before anything ends
        words = f"{len(plan.stretches)} stretches of {minutes:g} min"
        session.desk.reopen(
            replace(session.setup, kind=KIND), Asked("swap", (stretches, minutes), words)
        )
        return
    options = {"case": session.desk.told.case_id, "casebook": session.desk.casebook}
    seed = secrets.randbits(63)
    drawn = swapping.draw(stretches, minutes, None, 0.9, seed, known=swapping.known_of(options))
    test = UnseenTest(drawn, options, SwapResult(KIND, live.drive_id, 0.0))
    test.seal()
    session.show(news=f"Draw sealed: {drawn.plan.seal}. Which is connected is told after the end.")
    job = Errand(live, live.circuit, Interrupts(), test.result)
    try:
        _drive(session, job, test)
    finally:
        live.hidden = False  # type: ignore[attr-defined]
        test.reveal(job)
        session.show(hidden=False, foot="", news=test.result.sentence)


def _drive(session: Session, job: Errand, test: UnseenTest) -> None:
    live, stretches = job.live, test.draw.plan.stretches
    test.prepare(job)
    live.hidden = True  # type: ignore[attr-defined]
    for number, one in enumerate(stretches, 1):
        session.show(hidden=True, foot=one.foot,
                     doing_words=f"stretch {number} of {len(stretches)}")  # fmt: skip
        test.stretch(job, number)
    if not standing.at_rest(live):
        standing.home(live)
