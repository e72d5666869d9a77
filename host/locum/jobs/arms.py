"""The arms of a case: kick-outs and exposed hours by what fed the module, before and after repair.

The verdict's own count, so that a rule stamped, a page and a verdict cannot say three things.
"""

from __future__ import annotations

from locum.verdict.evidence import Evidence
from locum.verdict.pool import pool
from locum.verdict.tally import Tally

ARMS = (("real sensor, before repair", "real", False), ("following, glitches left out", "follow", False),
        ("real sensor, after repair", "real", True))  # fmt: skip


def arm_counts(evidence: Evidence) -> list[tuple[str, int, float]]:
    """(label, kick-outs, exposed hours) of each arm that was driven."""
    counted = pool(evidence)
    rows = []
    for label, connected, repaired in ARMS:
        tallies = counted.after if repaired else counted.tallies
        hours = sum(_hours(tally, connected) for tally in tallies)
        if hours > 0:
            rows.append((label, sum(_events(tally, connected) for tally in tallies), hours))
    return rows


def _hours(tally: Tally, connected: str) -> float:
    return sum(hours for (fed, _), hours in tally.hours.items() if fed == connected)


def _events(tally: Tally, connected: str) -> int:
    return sum(_fed(burst.masked, burst.hold) == connected for burst in tally.bursts)


def _fed(masked: bool, hold: bool) -> str:
    return "real" if not masked else "hold" if hold else "follow"
