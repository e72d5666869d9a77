"""The unseen swap test on the road: boundaries that tell nothing, stretches, "anything felt?".

At every boundary the relay goes over and back eight to thirteen times within a second or so, an even
or an odd number as the draw wants it, in uneven steps too quick to be counted by ear; then nothing
moves until the next boundary. All boundaries take the same time. One relay cannot do better: who
records its sound can count. A trip unblinds its stretch: it is recorded, and left out of the test.
"""

from __future__ import annotations

import secrets
import sys
from collections.abc import Callable
from dataclasses import dataclass

from locum.jobs import standing
from locum.jobs.errand import Errand
from locum.jobs.live import Live
from locum.jobs.provoking import HELD_S, give_contact, held_for_s
from locum.jobs.steady import ask_foot
from locum.jobs.swap_draw import BOUNDARY_S, Draw
from locum.verdict.swap import SwapStretch

CLICKS = (8, 13)
CLICK_MS = (60, 140)
"""Between two of them: the relay needs 20 ms, an ear more than 150. [ms]"""
RECOVERY_S = 40.0
"""So long one that is to be given waits for the held state. [s]"""
PRESSES = ("button", "key")

Answers = Callable[[], bool | None]
"""Asked again and again after a stretch: yes, no, or None while there is no answer."""


@dataclass
class DrivenStretch:
    """One stretch as it was driven, told after the drive."""

    number: int
    connected: str
    foot: str
    start_s: float
    end_s: float
    unblinded: bool = False
    """A trip showed what was connected."""
    glitches: int = 0
    """Bursts long enough, while the state was held."""
    followed: int = 0
    """Of them followed by a kick-out."""
    given: int = 0
    """Glitches given to the module, while the state was held."""
    answered: int = 0
    felt: bool | None = None
    """The mark was pressed, or the answer to "anything felt?"; None: not asked or not answered."""
    stretch: int = 0
    """Its number in the recording."""


def drive_stretch(
    job: Errand, draw: Draw, number: int, before: DrivenStretch | None = None,
    answers: Answers = lambda: None,
) -> DrivenStretch:  # fmt: skip
    """A boundary, in which the stretch before is asked about, and its stretch."""
    live, one = job.live, draw.plan.stretches[number - 1]
    ask_foot(live, one.foot == "still")
    tripped = not _boundary(job, one.connected, before, answers)
    connected = "real" if standing.at_rest(live) else "follow"
    stretch = live.stretch(connected, one.foot, {"swap": number})
    row = DrivenStretch(
        number, one.connected, one.foot, live.now_ms / 1000, 0.0, tripped, stretch=stretch
    )
    end_s = live.clock.now_s() + one.length_s
    _through(job, draw, one, row)
    if row.unblinded:
        _note_trip(job, number)
        live.stretch("real", one.foot, {"swap": number, "unblinded": True})
        job.wait(max(0.0, end_s - live.clock.now_s()))
    row.end_s = live.now_ms / 1000
    if any(row.start_s <= t / 1000 < row.end_s and k in PRESSES for t, k in live.findings.marks):
        answered(live, row, True)
    return row


def answered(live: Live, row: DrivenStretch, felt: bool) -> None:
    """Keep whether anything was felt in a stretch."""
    row.felt = felt
    live.store.answer(live.drive_id, row.stretch, felt)


def _through(job: Errand, draw: Draw, one: SwapStretch, row: DrivenStretch) -> None:
    """The stretch itself, with what is given in it; leaves early where a trip shows what it was."""
    live, begun_s = job.live, job.live.clock.now_s()
    following = one.connected == "follow"

    def seen(x: Live) -> bool:
        return following and standing.at_rest(x)

    for at_s in [*draw.given_s(row.number), one.length_s]:
        if not row.unblinded and not job.stopped:
            row.unblinded = job.wait(max(0.0, begun_s + at_s - live.clock.now_s()), seen)
        if row.unblinded or job.stopped or at_s == one.length_s:
            break
        job.wait(RECOVERY_S, lambda x: seen(x) or held_for_s(x) >= HELD_S)
        row.unblinded = seen(live)
        if not row.unblinded and held_for_s(live) >= HELD_S:
            live.store.add_mark(live.drive_id, live.now_ms, "injected", 0, str(draw.known.usual_ms))
            give_contact(live, draw.known.usual_ms, draw.known.towards)
    row.unblinded |= live.status.state == "tripped"


# -- boundaries --------------------------------------------------------------------------------------


def _boundary(job: Errand, connected: str, before: DrivenStretch | None, answers: Answers) -> bool:
    """Go over to what the next stretch wants; False if the board tripped or could not follow."""
    live = job.live
    live.stretch("follow", "normal", {"boundary": True})  # cut by the record where the relay let go
    end_s = live.clock.now_s() + BOUNDARY_S
    if before is not None and before.felt is None:
        print("Anything felt in that stretch? y or n, then Enter.", file=sys.stderr)
    if not standing.at_rest(live):
        live.board.ease_back()
        live.wait(standing.RETURN_WAIT_S, standing.at_rest)
        if not standing.at_rest(live):
            standing.real_sensor_now(live)
    _burst(live, connected)
    fine = live.status.state != "tripped"
    if not fine:
        _note_trip(job, 0)
    _ask(job, before, answers, end_s)
    return fine and standing.at_rest(live) == (connected == "real")


def _burst(live: Live, connected: str) -> None:
    """Over and back at the real sensor's own value, and stay where the draw wants it."""
    clicks = CLICKS[0] + secrets.randbelow(CLICKS[1] - CLICKS[0] + 1)
    clicks += (clicks % 2 == 1) != (connected == "follow")
    celsius = standing.reachable_start(live, standing.measured_real_c(live))
    ohm = float(live.circuit.sensor.curve.resistance_ohm(celsius))
    for left in range(clicks, 0, -1):
        if live.status.state == "tripped":
            return
        if left % 2 == clicks % 2:  # the first from the real sensor, then every other
            live.board.set_resistance(ohm)
            if left == 1:
                live.board.follow()
            else:
                live.board.stand_in()
        else:
            live.board.real_sensor_now()
        low, high = CLICK_MS
        live.tick((low + secrets.randbelow(high - low)) / 1000)


def _ask(job: Errand, before: DrivenStretch | None, answers: Answers, end_s: float) -> None:
    """Wait for the boundary's end, and meanwhile for an answer about the stretch before."""
    live = job.live

    def told(x: Live) -> bool:
        felt = answers() if before is not None and before.felt is None else None
        if felt is not None and before is not None:
            answered(live, before, felt)
        return False

    job.wait(max(0.0, end_s - live.clock.now_s()), told)


def _note_trip(job: Errand, number: int) -> None:
    live = job.live
    live.store.add_mark(live.drive_id, live.now_ms, "unblinded", 0, f"stretch {number}")
    if live.status.state == "tripped":
        live.board.clear_trip()
        live.tick(0.5)
