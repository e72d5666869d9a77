"""Which drive tells most while the case is undecided."""

from __future__ import annotations

from locum.verdict.finding import Advice, Plan
from locum.verdict.pool import Pool


def next_plan(pool: Pool) -> tuple[Advice, float]:
    """The next drive and the exposed hours still missing. [h]"""
    hours = pool.evidence.known.drive_h
    return Advice("listen", "Listen on the road.", "confirm the complaint", Plan(hours)), float(
        "nan"
    )
