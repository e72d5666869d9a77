"""How often tests cry wolf where nothing causes anything, with rates that are uneven in time.

Beside each test the plain method errs on the same draws, so that a test made careless would show.
The principle (shift times within like minutes; weigh only what the module answers; draw stretches by
lot) is argued in the comments of the code under test; the figures here are simulations of our own.
"""

from __future__ import annotations

import numpy as np

from locum.jobs.swap_tally import judged
from locum.verdict import exact
from locum.verdict.coincidence import at_least, covered_share
from locum.verdict.evidence import Drive, Evidence, Known, Stretch
from locum.verdict.pool import pool
from locum.verdict.pooled_numbers import injection_number

LOOK_BACK_S = 2.0


def crowded(rng, spell_s: float, hours: float, per_h: float, rough: np.ndarray) -> np.ndarray:
    """Times in rough spells alone. [s]"""
    parts = [
        n * spell_s + rng.random(rng.poisson(per_h * spell_s / 3600)) * spell_s
        for n in np.flatnonzero(rough)
    ]
    return np.sort(np.concatenate([*parts, np.empty(0)]))


def test_glitches_and_kick_outs_of_the_same_rough_minutes_are_no_coincidence():
    rng = np.random.default_rng(21)
    shifted = mean_rate = cases = 0
    for _ in range(700):
        spell_s, hours = 180.0, 2.0
        rough = rng.random(int(3600 * hours / spell_s)) < 0.15
        glitches = crowded(rng, spell_s, hours, 60, rough)
        kicks = crowded(rng, spell_s, hours, 12, rough)
        if len(kicks) < 2 or len(glitches) == 0:
            continue
        cases += 1
        ends = glitches + LOOK_BACK_S
        hits = sum(bool(np.any((glitches <= t) & (t <= ends))) for t in kicks)
        chances = covered_share(kicks, glitches, ends, 0.0, 3600 * hours)
        shifted += hits >= 2 and at_least(hits, np.maximum(chances, 1e-4).tolist()) <= 0.05
        q = exact.coincidence_chance(len(glitches) / hours, LOOK_BACK_S)
        mean_rate += at_least(hits, [q] * len(kicks)) <= 0.05
    assert cases > 500
    assert shifted / cases <= 0.05
    assert mean_rate / cases > 0.06


def test_kick_outs_that_follow_are_found_by_the_shifted_times():
    """The same test sees a cause where there is one, also in rough minutes."""
    rng = np.random.default_rng(22)
    found = 0
    for _ in range(60):
        rough = rng.random(12) < 0.4
        rough[3] = True
        glitches = crowded(rng, 600, 2.0, 15, rough)
        kicks = glitches[rng.random(len(glitches)) < 0.9] + rng.uniform(0.5, 1.2)
        hits = len(kicks)
        chances = covered_share(kicks, glitches, glitches + LOOK_BACK_S, 0.0, 7200)
        found += hits >= 2 and at_least(hits, chances.tolist()) <= 0.05
    assert found >= 50


def test_lengths_chosen_by_the_answers_do_not_make_injections_sufficient():
    """What is long enough is learnt from the same answers that are tested then: does that mislead?

    Releases come by chance, at a rate that differs between drives; no glitch given is answered.
    """
    rng = np.random.default_rng(23)
    wrong = found = 0
    for n in range(400):
        truth = n >= 300  # the last hundred are of a module that does answer
        lengths = rng.permutation(np.repeat([0.04, 0.08, 0.16, 0.32, 0.53, 1.0], 3))
        at = 60 + 45.0 * np.arange(len(lengths)) + 10 * rng.random(len(lengths))
        seconds = float(at[-1]) + 60
        rate = (20 if truth else 40) * rng.gamma(0.7, 1 / 0.7)
        release = rng.random(rng.poisson(rate * seconds / 3600)) * seconds
        if truth:
            answered = at[(lengths >= 0.16) & (rng.random(len(at)) < 0.97)]
            release = np.concatenate((release, answered + rng.uniform(0.6, 0.9, len(answered))))
        release = np.sort(release)
        drive = Drive(
            hours=seconds / 3600, exposed=((0.0, seconds),), kind="provoke",
            stretches=(Stretch(0.0, seconds, "follow", "normal"),), injected_t_s=at,
            injected_length_s=lengths, injected_cold=np.ones(len(at), bool), release_t_s=release,
            release_regain_s=np.full(len(release), 3.0), release_cause=("none",) * len(release),
        )  # fmt: skip
        number = injection_number(pool(Evidence(known=Known(), account=None, drives=(drive,))))
        says = number.inputs["answered"] >= 3 and number.value <= 0.05
        wrong += says and not truth
        found += says and truth
    assert wrong / 300 <= 0.05
    assert found >= 80


def test_the_unseen_test_keeps_its_alpha_where_rates_differ_from_stretch_to_stretch():
    """Kick-outs come by chance, in some stretches many; whether one follows a glitch is all that counts.

    By kick-outs alone, real against follow, the same drives would accuse the circuit.
    """
    rng = np.random.default_rng(24)
    wrong = by_rates = 0
    for _ in range(2000):
        arms = rng.permutation([True, True, False, False, True, False, True, False])
        rates = 12 * rng.gamma(0.7, 1 / 0.7, 8)
        glitches = rng.poisson(25 / 6, 8)
        followed = rng.binomial(glitches, -np.expm1(-rates * 2.5 / 3600))
        kicks = rng.poisson(rates / 6)
        real, masked = arms, ~arms
        told = judged(
            (int(followed[real].sum()), int(glitches[real].sum())), (0, 0),
            (int(followed[masked].sum()), int(glitches[masked].sum())), 0.05,
        )  # fmt: skip
        wrong += told.settled
        test = exact.conditional_test(int(kicks[real].sum()), 1.0, int(kicks[masked].sum()), 1.0)
        by_rates += test.p_value <= 0.05
    assert wrong / 2000 <= 0.05
    assert by_rates / 2000 > 0.08
