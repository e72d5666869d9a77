"""Which drive tells most while the case is undecided.

In order: confirm the complaint from the outputs before any connector is touched; then cut in and
contrast, inside one drive and in random order, the real sensor with the stand-in, mostly with the
foot still; play in glitches of many lengths until the shortest one answered is known; look at the
sensor's hot ohms if kick-outs need no glitch; if everything is quiet since the tap, drive on with
the real sensor until quiet means something. Stretches are drawn before the start from a seed that
depends on the case alone.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from locum.verdict import tails
from locum.verdict.finding import Advice, Plan
from locum.verdict.pool import Pool
from locum.verdict.stretches import laid_out, played_in, warm_up_s

BASELINE = 1
"""Kick-outs wanted before the circuit is touched."""
BASELINE_SHARE = 0.3
"""Of the budget, at most, for that."""
QUIET_SINCE_H = 1.0
"""Exposed hours with the real sensor after the cut without anything, before it is listened again."""
OWN_SHARE = 0.75
"""The same while what is felt follows the driver's own acts."""
NEEDED = 6
"""Kick-outs that usually settle a case (planning only; the tests decide)."""


@dataclass(frozen=True)
class Situation:
    """What the policy looks at."""

    left_h: float
    tapped: bool
    baseline: int
    baseline_h: float
    real: int
    real_h: float
    masked: int
    linked: int


def situation(pool: Pool) -> Situation:
    """Counts of the pool that steer the next drive."""
    before, since = pool.since_tap()
    bursts = [b for t in since for b in t.bursts]
    real = [b for b in bursts if not b.masked]
    baseline = sum(t.count() for t in before)
    real_h = sum(t.hours_in(False) for t in since)
    evidence = pool.evidence
    return Situation(
        evidence.known.budget_h - evidence.hours,
        bool(since),
        baseline,
        sum(t.hours_in() + t.outside_h for t in before),
        len(real),
        real_h,
        len(bursts) - len(real),
        sum(b.linked for b in real),
    )


def next_plan(pool: Pool, placing: bool = False, by_glitches: bool = True) -> tuple[Advice, float]:
    """The next drive and the exposed hours still missing. [h]

    ``placing``: the circuit is guilty, and only which part of it is open.
    """
    now = situation(pool)
    known = pool.evidence.known
    hours = min(known.drive_h, now.left_h)
    missing_h = _missing_h(pool)
    if hours < 0.25:
        words = "The time agreed is used up; say what is open and what it would take."
        return Advice("stop", words, "no time left", hours_to_settle=missing_h), missing_h
    draw = random.Random(1000 * len(pool.tallies) + 7)
    if _bench_wanted(pool, now, placing and not by_glitches):
        words = "Measure the sensor hot against a thermometer."
        why = "kick-outs with the real sensor only, and no glitch before them"
        return Advice("bench", words, why, Plan(0.0, bench="hot_ohms"), 0.5), missing_h
    if placing:
        return _place(pool, hours, draw, missing_h, by_glitches), missing_h
    if _cold_wanted(pool, now):
        return _cold(pool, draw, missing_h), missing_h
    if _confirming(pool, now):
        return _confirm(pool, hours, draw, missing_h), missing_h
    return _contrast(pool, hours, draw, missing_h), missing_h


def _confirming(pool: Pool, now: Situation) -> bool:
    """Nothing is touched until the complaint has shown; the driver's own acts first if they are
    what is felt."""
    budget_h = pool.evidence.known.budget_h
    own, felt = pool.total("own_pressed", "normal"), pool.total("felt_only")
    pressed = sum(b.pressed for b in pool.bursts())
    if own >= 2 and own >= 2 * (pressed + felt):
        return now.tapped or now.baseline_h < OWN_SHARE * budget_h
    if now.tapped:
        return _gone_quiet(pool, now)
    return now.baseline < BASELINE and now.baseline_h < BASELINE_SHARE * budget_h


def _gone_quiet(pool: Pool, now: Situation) -> bool:
    """Cut in, and nothing has shown since: there is nothing to contrast, so listen as at first.

    The driver drives as usual for half of the time; what was felt before may be their own acts.
    """
    silent = now.real == 0 and now.masked == 0 and pool.answers("under_mask").total == 0
    return silent and now.real_h >= QUIET_SINCE_H


def _cold_wanted(pool: Pool, now: Situation) -> bool:
    """Felt often while the commands stayed good: how often is something felt for nothing?"""
    known = pool.evidence.known
    if not (known.has("button") and known.has("converter") and 10.0 <= known.after_min <= 120.0):
        return False
    felt, pressed = pool.total("felt_only"), sum(b.pressed for b in pool.bursts())
    outside_h = sum(t.outside_h for t in pool.tallies)
    return felt >= 4 and pressed <= 0.25 * (felt + pressed) and outside_h < 0.5 * pool.hours()


def _cold(pool: Pool, draw: random.Random, missing_h: float) -> Advice:
    hours = pool.evidence.known.after_min / 60.0
    tap = pool.taps[-1] if pool.taps else "none"
    arms = [("real", "still"), ("real", "normal")]
    return Advice(
        "cold",
        f"Drive {60 * hours:.0f} min from cold, then let it cool down.",
        "while the fault cannot show, presses of the button tell how much is felt for nothing",
        Plan(hours, tap, laid_out(0.0, hours, arms, draw)),
        hours_to_settle=missing_h,
    )


def _rate(pool: Pool) -> float:
    """Kick-outs per exposed hour with the real sensor, or what the account leaves of it. [1/h]"""
    n, hours = len(pool.bursts(masked=False)), pool.hours(masked=False)
    account = pool.evidence.account
    prior_n, prior_h = 0.5, 0.5
    if account is not None and account.exposed_h > 0:
        prior_n, prior_h = 0.5, 0.5 / max(account.felt / account.exposed_h / 1.5, 0.05)
    return (n + prior_n) / (hours + prior_h)


def _missing_h(pool: Pool) -> float:
    have = len(pool.bursts(masked=False))
    return max(NEEDED - have, 1) / _rate(pool)


def _chance(pool: Pool, exposed_h: float) -> float:
    """Chance that the drive brings what is missing at the present rate."""
    need = max(NEEDED - len(pool.bursts(masked=False)), 1)
    return tails.poisson_at_least(need, _rate(pool) * exposed_h)


def _confirm(pool: Pool, hours: float, draw: random.Random, missing_h: float) -> Advice:
    warm = warm_up_s(pool, hours)
    arms = [("real", "still"), ("real", "normal")]
    plan = Plan(hours, pool.taps[-1] if pool.taps else "none", laid_out(warm, hours, arms, draw))
    return Advice(
        "listen outputs",
        f"Drive {hours:.1f} h with only the outputs, pedals and button watched.",
        "the complaint is confirmed before a connector is touched",
        plan,
        _chance(pool, hours - warm / 3600.0),
        missing_h,
    )


def _contrast(pool: Pool, hours: float, draw: random.Random, missing_h: float) -> Advice:
    warm = warm_up_s(pool, hours)
    tap = _tap(pool)
    arms = [("real", "still"), ("hold", "still")]
    if any(b.suspicious for b in pool.evidence.bench):
        # the fewer kick-outs with the real sensor the test needs, the sooner they are there
        arms.append(("hold", "still"))
    laid = laid_out(warm, hours, arms, draw)
    plan = Plan(hours, tap, laid, played_in(pool, laid, warm, draw))
    return Advice(
        "swap",
        f"Cut in at the {tap}'s end; {hours:.1f} h of real sensor and stand-in in random order.",
        "inside one drive uneven rates cannot fool the comparison",
        plan,
        _chance(pool, 0.5 * (hours - warm / 3600.0)),
        missing_h,
    )


def _place(
    pool: Pool, hours: float, draw: random.Random, missing_h: float, by_glitches: bool
) -> Advice:
    """At the sensor's end, mostly masked: node and ohmmeter tell the two sides apart."""
    warm = warm_up_s(pool, hours)
    arms = [("real", "still"), ("hold", "still")]
    if by_glitches and pool.evidence.known.has("ohmmeter_under_mask"):
        arms = [("real", "still"), ("hold", "still"), ("hold", "still"), ("hold", "still")]
    laid = laid_out(warm, hours, arms, draw)
    return Advice(
        "swap",
        f"Cut in at the sensor's end; {hours:.1f} h, mostly with the stand-in.",
        "glitches on the line under the stand-in are the harness, on the ohmmeter the sensor's side",
        Plan(hours, "sensor", laid, played_in(pool, laid, warm, draw)),
        _chance(pool, hours - warm / 3600.0),
        missing_h,
    )


def _tap(pool: Pool) -> str:
    """Where to cut in; once cut in, stay. The module's end leaves the sensor's plug alone."""
    return next((tap for tap in reversed(pool.taps) if tap != "none"), "module")


def _bench_wanted(pool: Pool, now: Situation, slow: bool) -> bool:
    if any(b.kind == "hot_ohms" for b in pool.evidence.bench):
        return False
    if slow:
        return True
    return now.real >= 1 and now.linked <= 0.2 * now.real and now.masked <= 0.2 * now.real


def hours_for(needed: int, rate_per_h: float, chance: float = 0.9) -> float:
    """Exposed hours in which so many kick-outs come with this chance. [h]"""
    if needed <= 0:
        return 0.0
    return tails.poisson_mean_low(needed, chance) / rate_per_h if rate_per_h > 0 else math.inf
