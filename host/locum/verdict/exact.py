"""Exact limits and tests for rare events, each with one declared convention.

Conventions, printed with every result: a test is one-sided in the direction stated before the
data ("before > after") and not doubled; an interval is two-sided, each tail half of 1 - confidence.
``two_sided_minlik`` adds up every outcome that is no likelier than the one seen.

Sources: F. Garwood, Biometrika 28 (1936) 437; J. Przyborowski and H. Wilenski, Biometrika 31
(1940) 313; C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404; R. A. Fisher, Statistical
Methods for Research Workers (1934) par. 21.02; A. Wald, Sequential Analysis (1947).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from locum.errors import Misuse, Remark
from locum.verdict import tails


@dataclass(frozen=True)
class Interval:
    """Limits of a rate or a chance."""

    low: float
    high: float


@dataclass(frozen=True)
class TestResult:
    """Outcome of an exact test."""

    p_value: float
    convention: str
    two_sided_minlik: float
    two_sided_doubled: float
    ratio: float = math.nan
    """Estimated ratio of the rates (or odds); infinite if the second is zero."""
    ratio_limits: Interval = Interval(0.0, math.inf)


ONE_SIDED = "one-sided, {} > {} stated beforehand, not doubled; intervals two-sided"


def _need(fine: bool, wanted: str, found) -> None:
    if not fine:
        raise Misuse(Remark("statistics_input", "", wanted, str(found)))


def garwood(events: int, exposure_h: float, confidence: float = 0.95) -> Interval:
    """Limits of a Poisson rate. [1/h]

    Parameters
    ----------
    events : int
        Zero or more.
    exposure_h : float
        More than zero. [h]
    confidence : float
        Two-sided, between 0 and 1.
    """
    _need(events >= 0 and exposure_h > 0, "events >= 0 in hours > 0", f"{events}/{exposure_h}h")
    _need(0 < confidence < 1, "a confidence between 0 and 1", confidence)
    tail = (1 - confidence) / 2
    return Interval(
        tails.poisson_mean_low(events, tail) / exposure_h,
        tails.poisson_mean_high(events, tail) / exposure_h,
    )


def garwood_worst_of(
    events: int, exposure_h: float, spells: int, confidence: float = 0.95
) -> Interval:
    """Limits of the rate if the spell told of was the worst of several like it. [1/h]

    The chance that the worst of m spells shows at most k is F(k)^m, F being Poisson; the limits
    turn that around as Garwood's do for one spell.
    """
    _need(spells >= 1, "one spell or more", spells)
    tail = (1 - confidence) / 2
    high = tails.poisson_mean_high(events, tail ** (1 / spells))
    low = tails.poisson_mean_low(events, 1 - (1 - tail) ** (1 / spells))
    return Interval(low / exposure_h, high / exposure_h)


def upper_limit(events: int, exposure_h: float, confidence: float = 0.95) -> float:
    """One-sided upper limit of a Poisson rate; 3/t for none in t ("rule of three"). [1/h]"""
    return tails.poisson_mean_high(events, 1 - confidence) / exposure_h


def conditional_test(
    before: int,
    before_h: float,
    after: int,
    after_h: float,
    confidence: float = 0.95,
    names: tuple[str, str] = ("before", "after"),
) -> TestResult:
    """Are two Poisson rates equal? Given their sum the first count is binomial.

    Parameters
    ----------
    before, after : int
        Events. ``before_h``, ``after_h``: their exposure, more than zero. [h]
    """
    _need(before >= 0 and after >= 0, "events >= 0", (before, after))
    _need(before_h > 0 and after_h > 0, "exposures > 0 h", (before_h, after_h))
    n = before + after
    share = before_h / (before_h + after_h)
    p_value = tails.binomial_at_least(before, n, share)
    other = tails.binomial_at_most(before, n, share)
    limits = clopper_pearson(before, n, confidence) if n else Interval(0.0, 1.0)
    scale = after_h / before_h
    ratio = (before / before_h) / (after / after_h) if after else (math.inf if before else math.nan)
    return TestResult(
        p_value,
        ONE_SIDED.format(*names),
        _minlik([tails.binomial_pmf(k, n, share) for k in range(n + 1)], before),
        min(1.0, 2 * min(p_value, other)),
        ratio,
        Interval(_odds(limits.low) * scale, _odds(limits.high) * scale),
    )


def _odds(p: float) -> float:
    return math.inf if p >= 1 else p / (1 - p)


def _minlik(chances: list[float], seen: int) -> float:
    limit = chances[seen] * (1 + 1e-9)
    return min(1.0, sum(chance for chance in chances if chance <= limit))


def stratified_conditional(
    strata: list[tuple[int, float, int, float]], names: tuple[str, str] = ("before", "after")
) -> TestResult:
    """The conditional test summed over drives, each with a rate of its own.

    Given each drive's total, its first count is binomial by the share of time; the sum's law is
    their convolution. Rates that differ from drive to drive cannot fool it.

    Parameters
    ----------
    strata : list of (events, hours, other events, other hours)
        Drives in which one side has no time say nothing and are left out.
    """
    law = [1.0]
    seen = 0
    for x, t_x, y, t_y in strata:
        if t_x <= 0 or t_y <= 0 or x + y == 0:
            continue
        n, share = x + y, t_x / (t_x + t_y)
        law = _convolved(law, [tails.binomial_pmf(k, n, share) for k in range(n + 1)])
        seen += x
    p_value = min(1.0, sum(law[seen:]))
    return TestResult(
        p_value,
        ONE_SIDED.format(*names) + ", within drives",
        _minlik(law, seen),
        min(1.0, 2 * min(p_value, sum(law[: seen + 1]))),
    )


def _convolved(one: list[float], other: list[float]) -> list[float]:
    out = [0.0] * (len(one) + len(other) - 1)
    for i, a in enumerate(one):
        for j, b in enumerate(other):
            out[i + j] += a * b
    return out


@lru_cache(maxsize=65536)
def _hypergeometric(hits: int, first: int, second: int) -> tuple[int, tuple[float, ...]]:
    low = max(0, hits - second)
    total = math.comb(first + second, hits)
    return low, tuple(
        math.comb(first, k) * math.comb(second, hits - k) / total
        for k in range(low, min(hits, first) + 1)
    )


def fisher(
    hits: int,
    trials: int,
    other_hits: int,
    other_trials: int,
    names: tuple[str, str] = ("first", "second"),
) -> TestResult:
    """Fisher's exact test of hits/trials against other_hits/other_trials."""
    _need(
        0 <= hits <= trials and 0 <= other_hits <= other_trials,
        "hits between 0 and trials",
        (hits, trials, other_hits, other_trials),
    )
    low, law = _hypergeometric(hits + other_hits, trials, other_trials)
    at = hits - low
    p_value = min(1.0, sum(law[at:]))
    cross = other_hits * (trials - hits)
    return TestResult(
        p_value,
        ONE_SIDED.format(*names),
        _minlik(list(law), at),
        min(1.0, 2 * min(p_value, sum(law[: at + 1]))),
        hits * (other_trials - other_hits) / cross if cross else math.inf,
    )


def clopper_pearson(hits: int, trials: int, confidence: float = 0.95) -> Interval:
    """Limits of a chance."""
    _need(0 <= hits <= trials and trials > 0, "0 <= hits <= trials", (hits, trials))
    tail = (1 - confidence) / 2
    return Interval(tails.binomial_low(hits, trials, tail), tails.binomial_high(hits, trials, tail))


def coincidence_chance(rate_per_h: float, window_s: float) -> float:
    """Chance that a window holds at least one of Poisson events: 1 - exp(-r w)."""
    return -math.expm1(-rate_per_h * window_s / 3600.0)


def alpha_at_look(alpha: float, look: int, looks: int | None = None) -> float:
    """The part of alpha one look may spend.

    With the number of looks declared: equal parts (Bonferroni). Without: alpha / (k (k + 1)),
    which adds up to alpha over any number of looks.
    """
    _need(look >= 1, "looks counted from 1", look)
    return alpha / looks if looks else alpha / (look * (look + 1))
