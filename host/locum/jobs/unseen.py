"""The unseen swap test at the desk: drawn, sealed and revealed as ``locum swap`` does it.

While it runs the recording says ``hidden`` and the desk takes out of every snapshot what could tell
(``veil.py``); only how to hold the foot is shown. An urgent key ends it: what was driven until then is
revealed and kept.
"""

from __future__ import annotations

import secrets
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from locum.jobs import standing, swapping
from locum.jobs.errand import Errand
from locum.jobs.interrupts import Interrupts
from locum.jobs.live import Live
from locum.verdict.swap import SwapPlan

if TYPE_CHECKING:
    from locum.jobs.desk_session import Session

STRETCHES, MINUTES = 4, swapping.MINUTES
KIND = "swap"


def swap(
    session: Session, live: Live, stretches: int = STRETCHES, minutes: float = MINUTES
) -> None:
    """Drive the stretches unseen; a recording of another kind is closed and one of its own begun."""
    from locum.jobs.desk import Asked

    if session.setup.kind != KIND:
        plan, _ = swapping.draw(stretches, minutes, None, 0.9, 1)  # refused before anything ends
        words = f"{len(plan.stretches)} stretches of {minutes:g} min"
        session.desk.reopen(
            replace(session.setup, kind=KIND), Asked("swap", (stretches, minutes), words)
        )
        return
    options = {"case": session.desk.told.case_id, "casebook": session.desk.casebook}
    plan, _ = swapping.draw(stretches, minutes, None, 0.9, secrets.randbits(63))
    shortest_s, delay_s, _ = swapping._known(options)
    swapping._write(options, "draw_sealed", {
        "seal": plan.seal, "stretches": len(plan.stretches),
        "words": f"Draw of {len(plan.stretches)} stretches sealed: {plan.seal}"})  # fmt: skip
    session.show(news=f"Draw sealed: {plan.seal}. Which is connected is told after the end.")
    result = swapping.SwapResult(KIND, live.drive_id, 0.0)
    result.seal, result.planned, result.shortest_s = (
        plan.seal,
        len(plan.stretches),
        shortest_s or 0.0,
    )
    job = Errand(live, live.circuit, Interrupts(), result)
    try:
        _drive(session, job, plan)
    finally:
        live.hidden = False  # type: ignore[attr-defined]
        delay_s = delay_s or swapping.UNMEASURED_DELAY_S
        swapping._reveal(result, plan, live.findings, swapping._top_states(job), delay_s)
        swapping._write(options, "draw_revealed", {
            "seal": plan.seal, "seed": str(plan.seed), "drive": live.drive_id,
            "stretches": [asdict(s) for s in plan.stretches], "words": result.sentence})  # fmt: skip
        session.show(hidden=False, foot="", news=result.sentence)


def _drive(session: Session, job: Errand, plan: SwapPlan) -> None:
    live = job.live
    standing.prepare(live)
    live.board.set_limits(standing_s=swapping.LONGEST_STANDING_S)
    live.hidden = True  # type: ignore[attr-defined]
    for number, one in enumerate(plan.stretches, 1):
        session.show(hidden=True, foot=one.foot,
                     doing_words=f"stretch {number} of {len(plan.stretches)}")  # fmt: skip
        job.result.stretches.append(swapping._drive(job, number, one))  # type: ignore[attr-defined]
    if not standing.at_rest(live):
        standing.home(live)
