"""From counts to one of the conclusions, by rules written down beforehand.

Each rule asks for enough events, a share of the kick-outs large enough to matter, and an exact
test within its limit. The limits are chosen so that over all looks of a case the chance of a wrong
statement stays below ``Evidence.alpha`` (held by simulation with uneven rates, tests/campaign).
Where no rule applies the case stays undecided: that is a proper end.
"""

from __future__ import annotations

import math

from locum.verdict import exact
from locum.verdict.circuit_rules import circuit, guilty_circuit, harness
from locum.verdict.finding import Number
from locum.verdict.limits import Conclusion, Limits
from locum.verdict.normal_rule import least_by_account, normal
from locum.verdict.other_rules import direct_cause, goes_on, outputs
from locum.verdict.pool import Pool

__all__ = ["Conclusion", "Limits", "conclude", "guilty_circuit"]


def conclude(pool: Pool, limits: Limits | None = None) -> Conclusion:
    """The first rule that applies, else undecided."""
    limits = limits or Limits()
    for rule in (
        direct_cause,
        harness,
        circuit,
        goes_on,
        outputs,
        normal,
    ):
        found = rule(pool, limits)
        if found is not None and (rule in EXPLAINED or carries_the_complaint(pool, limits)):
            return found
    return _at_the_end(pool)


EXPLAINED = (outputs, normal)
"""Rules that hold what they found against the account themselves."""


def carries_the_complaint(pool: Pool, limits: Limits) -> bool:
    """Did kick-outs come at all about as often as told? If not, the complaint is another one, and
    whatever makes these few is not what the customer came for."""
    seen = sum(b.count for b in pool.bursts(masked=False))
    told = least_by_account(pool) * pool.hours(masked=False)
    return seen >= limits.carried_share * told


def _at_the_end(pool: Pool) -> Conclusion:
    """Undecided, or not reproduced if the time agreed is used up and nothing ever showed."""
    evidence = pool.evidence
    if evidence.known.budget_h - evidence.hours >= 0.25:
        return Conclusion()
    shown = len(pool.bursts()) + pool.total("felt_only")
    hours = pool.hours()
    if hours <= 0 or shown > 2 + 0.2 * hours:
        return Conclusion()
    high = exact.upper_limit(len(pool.bursts()), hours)
    number = Number(
        "rate_bound",
        high,
        "exact.upper_limit",
        {"events": len(pool.bursts()), "exposure_h": hours},
        "one-sided 95 %, under the conditions driven",
        "1/h",
    )
    why = f"in {hours:.1f} exposed hours the complaint hardly showed"
    return Conclusion("not_reproduced", math.nan, "", why, [number])
