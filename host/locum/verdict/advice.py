"""The next drive that would tell most, ready to start."""

from __future__ import annotations

import math

from locum.verdict.conclude import Conclusion
from locum.verdict.finding import Advice, Plan, Step
from locum.verdict.outlook import wire_first
from locum.verdict.policy import next_plan
from locum.verdict.pool import Pool
from locum.verdict.words import CIRCUIT


def advise(
    pool: Pool, conclusion: Conclusion, made: tuple[Step, ...] | None
) -> tuple[Advice, float]:
    """Advice and the exposed hours still missing for a decision at the present rate. [h]

    ``made``: the steps of proof, for the time the repaired car must run quiet; None without.
    """
    if conclusion.name != "undecided" and conclusion.name not in CIRCUIT:
        return Advice("stop", "Nothing more to drive for the sensor circuit.", conclusion.why), 0.0
    if conclusion.name == "sensor_circuit" and not pool.after:
        return next_plan(pool, placing=True, by_glitches=len(conclusion.numbers) > 1)
    if conclusion.name in CIRCUIT:
        return _after_blame(pool, made), 0.0
    first = wire_first(pool)
    return (first, math.nan) if first is not None else next_plan(pool)


def _after_blame(pool: Pool, made: tuple[Step, ...] | None) -> Advice:
    """Blamed: find the defect, repair, then drive quiet for the exact time."""
    if made is None:
        return Advice("repair", "Find the defect and repair it; change one thing.", "shown")
    cured = made[-1]
    if cured.reached:
        return Advice("stop", "Hand the car back; call the owner in two to four weeks.", "cured")
    number = next((n for n in cured.numbers if n.name == "quiet_hours_needed"), None)
    if number is None:
        return Advice("repair", "Find the defect and repair it; change one thing.", "shown")
    left = max(number.value - _after_hours(pool), 0.0)
    plan = Plan(min(max(left, 0.25), 4.0) if math.isfinite(left) else 4.0)
    return Advice(
        "quiet",
        f"Drive the repaired car {left:.2f} exposed hours with the real sensor.",
        "so long a quiet time would be improbable at the old rate",
        plan,
        hours_to_settle=left,
    )


def _after_hours(pool: Pool) -> float:
    return sum(t.hours_in(False) for t in pool.after)
