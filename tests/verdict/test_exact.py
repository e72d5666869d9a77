"""Coverage and false alarms by simulation, also where rates are uneven; refusals."""

from __future__ import annotations

import numpy as np
import pytest

from locum.errors import Misuse
from locum.verdict import exact, quiet


def test_garwood_limits_hold_the_truth_at_least_as_often_as_they_say():
    rng = np.random.default_rng(1)
    for mean in (0.3, 1.7, 6.0):
        counts = rng.poisson(mean, 4000)
        limits = {int(k): exact.garwood(int(k), 1.0) for k in np.unique(counts)}
        held = np.mean([limits[int(k)].low <= mean <= limits[int(k)].high for k in counts])
        assert held >= 0.945


def test_limits_of_the_worst_spell_hold_the_truth_where_plain_ones_do_not():
    rng = np.random.default_rng(2)
    worst = rng.poisson(2.0, (4000, 5)).max(axis=1)
    plain = np.mean([exact.garwood(int(k), 1.0).low <= 2.0 for k in worst])
    corrected = np.mean(
        [
            exact.garwood_worst_of(int(k), 1.0, 5).low
            <= 2.0
            <= exact.garwood_worst_of(int(k), 1.0, 5).high
            for k in worst
        ]
    )
    assert corrected >= 0.945
    assert plain < 0.95


def test_within_drives_uneven_rates_do_not_raise_the_alarm():
    """Every drive has its own rate, and arms by whole drives err where the strata do not."""
    rng = np.random.default_rng(3)
    within = whole = 0
    for _ in range(1500):
        rates = 2.0 * rng.gamma(0.7, 1 / 0.7, 8)
        shares = rng.uniform(0.2, 0.8, 8)
        x, y = rng.poisson(rates * shares), rng.poisson(rates * (1 - shares))
        strata = list(zip(x.tolist(), shares, y.tolist(), 1 - shares, strict=True))
        within += exact.stratified_conditional(strata).p_value <= 0.05
        a, b = rng.poisson(rates[:4]).sum(), rng.poisson(rates[4:]).sum()
        whole += exact.conditional_test(int(a), 4.0, int(b), 4.0).p_value <= 0.05
    assert within / 1500 <= 0.05
    assert whole / 1500 > 0.08


def test_one_stratum_is_the_plain_test():
    plain = exact.conditional_test(5, 3.0, 1, 5.0)
    strata = exact.stratified_conditional([(5, 3.0, 1, 5.0), (3, 2.0, 0, 0.0)])
    assert strata.p_value == pytest.approx(plain.p_value)


def test_alpha_is_spent_once_over_all_looks():
    assert sum(exact.alpha_at_look(0.05, k) for k in range(1, 5000)) <= 0.05
    assert exact.alpha_at_look(0.05, 3, looks=10) == pytest.approx(0.005)


def test_looking_after_each_drive_errs_unless_alpha_is_spread():
    rng = np.random.default_rng(4)
    careless = spread = 0
    for _ in range(600):
        a, b = rng.poisson(1.5, 12).cumsum(), rng.poisson(1.5, 12).cumsum()
        p = [exact.conditional_test(int(x), k + 1.0, int(y), k + 1.0).p_value
             for k, (x, y) in enumerate(zip(a, b, strict=True))]  # fmt: skip
        careless += min(p) <= 0.05
        spread += any(v <= exact.alpha_at_look(0.05, k + 1) for k, v in enumerate(p))
    assert careless / 600 > 0.06
    assert spread / 600 <= 0.05


def test_sequential_test_keeps_its_risks_when_rates_are_even():
    rng = np.random.default_rng(5)
    test = quiet.Sprt(0.5, 0.05)

    def passes(rate):
        t_h, events = 0.0, 0
        while True:
            t_h += rng.exponential(1 / rate)
            if t_h >= test.repaired_after_h(events):
                return True
            events += 1
            if test.decision(events, t_h) == "still_bad":
                return False

    assert np.mean([passes(0.5) for _ in range(2000)]) <= 0.06
    assert np.mean([passes(0.05) for _ in range(500)]) >= 0.94


def test_quiet_time_grows_with_each_correction_and_says_when_it_is_hopeless():
    figures = quiet.quiet_time(3, 10.0, spells=4, drive_h=2.0)
    assert figures.if_rate_were_known < figures.quiet_hours_needed < figures.worst_of_spells
    assert figures.uneven_drives >= figures.quiet_hours_needed
    assert not figures.unprovable
    assert quiet.quiet_time(1, 10.0).unprovable
    assert quiet.quiet_hours_needed(0, 10.0) == float("inf")


def test_quiet_drives_after_bad_ones_by_fisher():
    """After 4 of 12 one is told 12, not the 8 that a known chance would ask."""
    assert [quiet.quiet_drives_needed(4, 12), quiet.quiet_drives_needed(3, 12)] == [12, 19]
    assert quiet.quiet_drives_needed(2, 8) == 26
    assert quiet.zero_failure_drives(4 / 12) == 8
    assert quiet.quiet_drives_needed(0, 5) is None


def test_comparison_carries_all_figures_of_the_command():
    found = quiet.compare(3, 10.0, 0, 10.0)
    assert found.p_value == pytest.approx(0.125)
    assert found.rate_before.high == pytest.approx(0.8767, abs=1e-4)
    assert found.quiet_hours_needed == pytest.approx(17.144, abs=1e-3)
    drives = quiet.compare_drives(4, 12, 0, 15)
    assert (drives.unit, drives.quiet_hours_needed) == ("drives", 12.0)
    assert drives.p_value == pytest.approx(0.0282, abs=1e-4)


@pytest.mark.parametrize(
    "call",
    [
        lambda: exact.garwood(-1, 2.0),
        lambda: exact.garwood(1, 0.0),
        lambda: exact.garwood(1, 2.0, 1.0),
        lambda: exact.conditional_test(1, 0.0, 2, 1.0),
        lambda: exact.fisher(5, 4, 0, 4),
        lambda: exact.clopper_pearson(3, 2),
        lambda: quiet.Sprt(0.05, 0.5),
        lambda: quiet.zero_failure_drives(0.0),
    ],
)
def test_impossible_input_is_misuse(call):
    with pytest.raises(Misuse):
        call()
