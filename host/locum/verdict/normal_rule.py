"""The rule for "normal": the complaint shown, and explained by the driver's own acts."""

from __future__ import annotations

from locum.verdict import exact, tails
from locum.verdict.finding import Number
from locum.verdict.limits import Conclusion, Limits
from locum.verdict.pool import Pool, foot_boundary_s


def normal(pool: Pool, limits: Limits) -> Conclusion | None:
    """What is felt follows the driver's own acts and goes with the foot still."""
    own = pool.total("own_pressed")
    fault = sum(b.pressed for b in pool.bursts()) + pool.total("felt_only")
    known = pool.evidence.known
    if not (known.has("brake") and known.has("throttle")):
        return None  # nobody can say which acts were the driver's
    if own < limits.own_least or fault > limits.unexplained_share * own + 1:
        return None
    if not foot_boundary_s(pool.evidence)[1] or not _often_enough(pool, limits):
        return None
    strata = [
        (
            t.own_pressed["normal"],
            t.hours_in(still=False),
            t.own_pressed["still"],
            t.hours_in(still=True),
        )
        for t in pool.tallies
    ]
    result = exact.stratified_conditional(strata, ("normal driving", "foot still"))
    shown = fault_would_have_shown(pool, fault)
    if result.p_value > limits.normal_p or shown is None or shown.value > limits.shown_p:
        return None
    number = Number(
        "own_acts_felt",
        result.p_value,
        "exact.stratified_conditional",
        {"normal": sum(s[0] for s in strata), "normal_h": sum(s[1] for s in strata),
         "still": sum(s[2] for s in strata), "still_h": sum(s[3] for s in strata)},
        result.convention,
    )  # fmt: skip
    why = "what was felt followed the driver's own acts, and was gone with the foot still"
    return Conclusion("normal", result.p_value, result.convention, why, [number, shown])


def _often_enough(pool: Pool, limits: Limits) -> bool:
    """Do the driver's own acts that were felt come about as often as the complaint told of?"""
    hours = sum(t.hours_in(still=False) for t in pool.tallies)
    told = limits.told_share * least_by_account(pool) * hours
    return pool.total("own_pressed", "normal") >= told


def least_by_account(pool: Pool) -> float:
    """Least rate that the account allows, as the worst of three spells or more. [1/h]"""
    account = pool.evidence.account
    if account is None or account.exposed_h <= 0:
        return 0.0
    return exact.garwood_worst_of(account.felt, account.exposed_h, max(account.spells, 3), 0.8).low


def fault_would_have_shown(pool: Pool, fault: int) -> Number | None:
    """Chance of so few of the fault's kick-outs: one at the least rate the account allows would show
    more often.

    Drives differ: each has a rate of its own, gamma with shape 1 about the mean ("very uneven"), so
    that one drive says little and many say as much as their number. Their sum is a negative
    binomial with the shape of as many equal drives.
    """
    low = least_by_account(pool)
    each = [t.hours_in(False) for t in pool.tallies]
    hours = sum(each)
    if low <= 0 or hours <= 0:
        return None
    drives = hours**2 / sum(h * h for h in each)
    p_value = 1.0 - tails.negative_binomial_at_least(
        fault + 1, drives, low * hours / (low * hours + drives)
    )
    return Number(
        "fault_would_have_shown",
        p_value,
        "1 - tails.negative_binomial_at_least",
        {"shown": fault, "account_low_per_h": low, "hours": hours, "drives": drives},
        "rate: lower 80 % limit of the account as the worst of three spells or more; drives uneven",
    )
