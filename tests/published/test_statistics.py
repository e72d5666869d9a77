"""The exact tests against printed tables and hand counts (sources in data/statistics.toml), and
scipy as a second opinion."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from locum.review.threshold import extrapolated_c, staircase_mean
from locum.verdict import exact, quiet, tails
from locum.verdict.coincidence import at_least, covered_share

DATA = tomllib.loads((Path(__file__).parent / "data" / "statistics.toml").read_text("utf-8"))


def rows(name):
    return [pytest.param(*row, id="-".join(map(str, row))) for row in DATA[name][0]["rows"]]


@pytest.mark.parametrize(("events", "low", "high"), rows("garwood"))
def test_garwood_limits_as_printed(events, low, high):
    limits = exact.garwood(events, 1.0, 0.95)
    assert limits.low == pytest.approx(low, abs=6e-5)
    assert limits.high == pytest.approx(high, abs=6e-5)


@pytest.mark.parametrize(("events", "high"), rows("garwood_upper"))
def test_one_sided_upper_limits_as_printed(events, high):
    assert exact.upper_limit(events, 1.0) == pytest.approx(high, abs=6e-5)


@pytest.mark.parametrize(("x", "t_x", "y", "t_y", "p"), rows("conditional"))
def test_conditional_test_by_hand(x, t_x, y, t_y, p):
    assert exact.conditional_test(x, t_x, y, t_y).p_value == pytest.approx(p, abs=6e-6)


@pytest.mark.parametrize(("x", "t_x", "y", "t_y", "low", "high"), rows("ratio"))
def test_limits_of_the_ratio(x, t_x, y, t_y, low, high):
    limits = exact.conditional_test(x, t_x, y, t_y).ratio_limits
    assert limits.low == pytest.approx(low, rel=1e-3)
    assert limits.high == (pytest.approx(high, rel=1e-3) if high else math.inf)


@pytest.mark.parametrize(("x", "t_x", "y", "t_y", "low", "high"), rows("ratio_in_full"))
def test_limits_of_a_ratio_to_all_printed_digits(x, t_x, y, t_y, low, high):
    limits = exact.conditional_test(x, t_x, y, t_y).ratio_limits
    assert (limits.low, limits.high) == pytest.approx((low, high), rel=1e-8)


@pytest.mark.parametrize(("k", "n", "low", "high"), rows("share_in_full"))
def test_limits_of_a_share_of_many_to_all_printed_digits(k, n, low, high):
    limits = exact.clopper_pearson(k, n)
    assert (limits.low, limits.high) == pytest.approx((low, high), abs=6e-8)


@pytest.mark.parametrize(("a", "n", "b", "m", "p"), rows("fisher"))
def test_fisher_by_counting_arrangements(a, n, b, m, p):
    assert exact.fisher(a, n, b, m).p_value == pytest.approx(p, abs=6e-8)


@pytest.mark.parametrize(("k", "n", "low", "high"), rows("clopper_pearson"))
def test_clopper_pearson_as_printed(k, n, low, high):
    limits = exact.clopper_pearson(k, n)
    assert (limits.low, limits.high) == pytest.approx((low, high), abs=6e-5)


def test_wald_limits_by_hand():
    wald = DATA["wald"][0]
    test = quiet.Sprt(0.5, 0.05)
    assert [test.repaired_after_h(n) for n in range(3)] == pytest.approx(
        wald["repaired_h"], abs=6e-4
    )
    assert [test.still_bad_until_h(n) for n in range(2)] == [None, None]
    assert [test.still_bad_until_h(n) for n in (2, 3, 4)] == pytest.approx(
        wald["still_bad_h"], abs=6e-4
    )


@pytest.mark.parametrize(("chance", "confidence", "n"), rows("success_run"))
def test_zero_failure_drives_as_printed(chance, confidence, n):
    assert quiet.zero_failure_drives(chance, confidence) == n


@pytest.mark.parametrize(("events", "hours", "needed"), rows("quiet"))
def test_quiet_hours_by_hand(events, hours, needed):
    assert quiet.quiet_hours_needed(events, hours) == pytest.approx(needed, abs=6e-4)


def test_staircase_by_hand():
    case = DATA["staircase"][0]
    found = staircase_mean(case["reversals"])
    assert found.celsius == pytest.approx(case["mean"], abs=0.005)
    assert found.expanded_c == pytest.approx(case["half"], abs=0.005)


def test_two_rate_extrapolation_by_hand():
    """21.2 at 0.5 K/s and 24.2 at 2 K/s: a slope of 2 s, so 20.2 at rest."""
    assert extrapolated_c([0.5, 2.0], [21.2, 24.2]).celsius == pytest.approx(20.2)


def test_coincidence_by_hand():
    case = DATA["coincidence"][0]
    chance = exact.coincidence_chance(10.0, 2.0)
    assert chance == pytest.approx(case["chance"], abs=6e-7)
    assert at_least(3, [chance] * 3) == pytest.approx(case["three_of_three"], rel=1e-3)
    assert at_least(3, [chance] * 5) == pytest.approx(case["three_of_five"], rel=1e-3)


def test_tails_agree_with_scipy_from_single_events_to_thousands():
    rng = np.random.default_rng(11)
    for _ in range(400):
        k, mean = int(rng.integers(0, 3000)), float(rng.gamma(1.0, 1000.0))
        assert tails.poisson_at_most(k, mean) == pytest.approx(
            stats.poisson.cdf(k, mean), abs=1e-11
        )
        n = int(rng.integers(1, 2000))
        k, p = int(rng.integers(0, n + 1)), float(rng.random())
        assert tails.binomial_at_least(k, n, p) == pytest.approx(
            stats.binom.sf(k - 1, n, p), abs=1e-11
        )
        shape, share = float(rng.gamma(2.0, 2.0)) + 0.1, float(rng.uniform(0.05, 0.95))
        k = int(rng.integers(0, 60))
        assert tails.negative_binomial_at_least(k, shape, share) == pytest.approx(
            stats.nbinom.sf(k - 1, shape, 1 - share), abs=1e-11
        )


def test_small_tails_keep_their_digits():
    assert tails.poisson_at_least(40, 1.0) == pytest.approx(stats.poisson.sf(39, 1.0), rel=1e-9)
    assert tails.binomial_at_least(30, 30, 0.1) == pytest.approx(1e-30, rel=1e-9)


@pytest.mark.parametrize("table", [(6, 4, 1, 9), (3, 2, 8, 2), (10, 3, 0, 4)])
def test_two_sided_values_agree_with_scipy(table):
    x, t_x, y, t_y = table
    ours = exact.conditional_test(x, t_x, y, t_y)
    theirs = stats.binomtest(x, x + y, t_x / (t_x + t_y))
    assert ours.two_sided_minlik == pytest.approx(theirs.pvalue, abs=1e-9)
    a, n, b, m = 5, 8, 1, 9
    two_sided = stats.fisher_exact([[a, n - a], [b, m - b]]).pvalue
    assert exact.fisher(a, n, b, m).two_sided_minlik == pytest.approx(two_sided, abs=1e-9)


@pytest.mark.parametrize(("events", "spells"), [(1, 1), (3, 1), (3, 4), (7, 10), (0, 3)])
def test_limits_of_the_worst_of_several_spells_by_their_definition(events, spells):
    """The worst of m Poisson spells is at most k with F(k)^m; each limit leaves 2.5 % beyond it."""
    limits = exact.garwood_worst_of(events, 1.0, spells)
    assert stats.poisson.cdf(events, limits.high) ** spells == pytest.approx(0.025, rel=1e-6)
    if events:
        beyond = 1 - stats.poisson.cdf(events - 1, limits.low) ** spells
        assert beyond == pytest.approx(0.025, rel=1e-6)
    else:
        assert limits.low == 0.0


def test_strata_against_the_tail_of_a_sum_drawn_by_chance():
    """Three drives with shares of their own; the sum's tail counted over every outcome."""
    strata = [(4, 1.0, 1, 3.0), (2, 2.0, 2, 1.0), (3, 0.5, 0, 1.5)]
    laws = [stats.binom.pmf(np.arange(x + y + 1), x + y, a / (a + b)) for x, a, y, b in strata]
    total = sum(
        laws[0][i] * laws[1][j] * laws[2][k]
        for i in range(len(laws[0])) for j in range(len(laws[1])) for k in range(len(laws[2]))
        if i + j + k >= 9
    )  # fmt: skip
    assert exact.stratified_conditional(strata).p_value == pytest.approx(total, rel=1e-9)


def test_look_backs_that_overlap_cover_their_minutes_once():
    """900 to 903, 901 to 902 and 902.5 to 904 cover 4 s of 1,200, not 5.5."""
    starts, ends = np.array([900.0, 901.0, 902.5]), np.array([903.0, 902.0, 904.0])
    assert covered_share(np.array([1000.0]), starts, ends)[0] == pytest.approx(4.0 / 1200.0)
    at_the_edge = covered_share(np.array([100.0]), np.array([50.0]), np.array([56.0]), 0.0, 400.0)
    assert at_the_edge[0] == pytest.approx(6.0 / 400.0)
