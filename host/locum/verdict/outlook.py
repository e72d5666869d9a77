"""Would the rest of the time agreed settle the case? If not, which line is to be wired first.

A channel that is missing leaves suspects that nothing can show: hours of driving do not help, a wire
does. The rest is taken to go as the time so far, twice over to be generous; if even then no rule
applies, driving on is no use. Only a case whose kick-outs come with the stand-in too, and follow
nothing that is wired, is given up by this: quiet may end, contacts wake.
"""

from __future__ import annotations

import math
from dataclasses import replace

from locum.verdict.conclude import conclude
from locum.verdict.finding import Advice
from locum.verdict.pool import Pool

TELLS = {
    "throttle": "the throttle's line tells the driver's own acts",
    "brake": "the brake's line tells a foot from a bad switch",
    "button": "a mark button tells what was felt",
    "return_offset": "a wire on the sensor's return tells a bad ground",
    "node": "a tap on the sensor's line tells the circuit's glitches",
    "ohmmeter_under_mask": "the ohmmeter tells on which side of the cut the circuit opens",
}
"""Channel -> what has to be there, and what it tells."""
MASKED = 3
"""Kick-outs under the stand-in with none of the wired causes before them."""
MOST = 0.6
"""Share of such kick-outs among all that was seen or felt."""
SHARE = 0.3
"""Of the time agreed, before anything is given up."""
GENEROUS = 2.0
"""Times the rest of the time agreed."""


def more_hours_would_settle(pool: Pool) -> bool:
    """Does a rule apply once the time so far has come again and again, to the end and twice over?"""
    hours = max(pool.evidence.hours, 1e-9)
    times = math.ceil(GENEROUS * max(pool.evidence.known.budget_h / hours, 1.0))
    again = replace(pool, tallies=pool.tallies * times, taps=pool.taps * times)
    return conclude(again).name not in ("undecided", "not_reproduced")


def _told_by_nothing(pool: Pool) -> bool:
    """Most kick-outs have none of the wired causes before them, and the stand-in does not end them."""
    bursts = pool.bursts()
    free = [b for b in bursts if not (b.linked or b.near or b.offset or b.brake_s is not None)]
    masked = sum(b.masked for b in free)
    felt = pool.total("felt_only")
    return masked >= MASKED and len(free) >= MOST * (len(bursts) + felt)


def wire_first(pool: Pool) -> Advice | None:
    """Advice to wire what is missing, if driving on as before would settle nothing."""
    known = pool.evidence.known
    absent = [words for name, words in TELLS.items() if not known.has(name)]
    early = pool.evidence.hours < SHARE * known.budget_h
    if not absent or early or not _told_by_nothing(pool) or more_hours_would_settle(pool):
        return None
    return Advice(
        "stop",
        f"Wire what is missing before driving on: {'; '.join(absent)}.",
        "if the rest went as the time so far, it would settle nothing",
    )
