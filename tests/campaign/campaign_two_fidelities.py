"""The same secret cases at both fidelities: event level, and sample by sample.

    python tests/campaign/campaign_two_fidelities.py [--short] [--cases 16] [--drives 4] [--seed 1000]

First one order, driven in each case's event level and in its full world: releases, glitches on node
and ohmmeter, brake pulses and presses of both, and the chance that the same law makes such a
difference (sign-flip test over cases, two-sided). Then whole cases by the tool's own advice, each
pair of conclusions beside each other. Cases share culprit, rates and module; their drives differ by
chance, so that single conclusions may.

Exit 1 if a count differs with p < 0.001, if the full world blames or clears wrongly in more than one
case of twenty, or if right conclusions differ (Fisher, p < 0.001).
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from unittest.mock import patch

import numpy as np

from locum.jobs import trial
from locum.verdict import exact
from locum.virtual import case as secret
from locum.virtual import generator
from locum.virtual.full_drive import drive_in_full
from locum.virtual.hidden import CULPRITS
from locum.virtual.scenario import Scenario

ORDER = secret.Order(
    2.0,
    "sensor",
    tuple(
        secret.Stretch(600.0, connected, foot)
        for _ in range(3)
        for connected, foot in (("real", "still"), ("hold", "still"), ("real", "normal"), ("hold", "normal"))
    ),
    tuple(secret.Injection(630.0 + 2400.0 * k + 90.0 * i, length)
          for k in range(3) for i, length in enumerate((0.05, 0.15, 0.3, 0.6, 1.2, 2.4))),
)  # fmt: skip
COUNTS = ("releases", "node glitches", "ohmmeter glitches", "brake pulses", "presses")
EXPOSED_WITHIN_MIN = 1.0
FLIPS = 4000
ODD = 1e-3


def counts_of(log: secret.EventLog) -> np.ndarray:
    """What a log shows, in the order of ``COUNTS``."""
    shown = (log.release_t_s, log.node_glitches, log.ohm_glitches, log.brake_t_s, log.mark_t_s)
    exposed = max(0.0, log.hours * 3600 - log.exposed_from_s) / 60
    return np.array([*(0 if rows is None else len(rows) for rows in shown), exposed], float)


EXPOSED = len(COUNTS)
"""Place of the exposed minutes after the counts: no chance in them, so they are compared as they are."""


def both(culprit: str, seed: int, drives: int) -> tuple[np.ndarray, np.ndarray]:
    """Sums over the drives of one case at both fidelities."""
    sums = []
    for play in (generator.drive, drive_in_full):
        rng = np.random.default_rng(seed)
        case = generator.draw_case(Scenario(), rng, culprit)
        sums.append(sum(counts_of(play(case, ORDER, rng)) for _ in range(drives)))
    return sums[0], sums[1]


def flipped_p(differences: np.ndarray, rng: np.random.Generator) -> float:
    """Two-sided chance of such a mean difference if each case's sign were a coin."""
    signs = rng.choice((-1.0, 1.0), (FLIPS, len(differences)))
    sums = np.abs(signs @ differences)
    return float((1 + np.count_nonzero(sums >= abs(differences.sum()) - 1e-9)) / (FLIPS + 1))


def agreement(cases: int, drives: int, seed: int) -> bool:
    pairs = [both(CULPRITS[n % len(CULPRITS)], seed + n, drives) for n in range(cases)]
    event, full = (np.array([pair[k] for pair in pairs]) for k in (0, 1))
    rng = np.random.default_rng(seed)
    print(
        f"one order of {ORDER.hours:g} h, {drives} drives of each of {cases} cases, means a drive"
    )
    print(f"  {'':<20}{'event level':>12}{'full world':>12}{'p':>8}")
    good = True
    for k, name in enumerate(COUNTS):
        p = flipped_p(event[:, k] - full[:, k], rng)
        good &= p >= ODD
        means = event[:, k].mean() / drives, full[:, k].mean() / drives
        print(f"  {name:<20}{means[0]:>12.2f}{means[1]:>12.2f}{p:>8.3f}", flush=True)
    worst = np.abs(event[:, EXPOSED] - full[:, EXPOSED]).max() / drives
    print(f"  exposed time of each case within {worst:.2f} min")
    return bool(good and worst <= EXPOSED_WITHIN_MIN)


def pair(culprit: str, seed: int) -> tuple[trial.CaseResult, trial.CaseResult]:
    """One case worked at the event level and in the full world."""
    event = trial.run_case(Scenario(), culprit, seed)
    with patch.object(generator, "drive", drive_in_full):
        full = trial.run_case(Scenario(), culprit, seed)
    return event, full


def conclusions(cases: int, seed: int) -> bool:
    sums, same = (Counter(), Counter()), 0
    print("whole cases by the tool's own advice: event level, full world")
    for n in range(cases):
        results = pair(CULPRITS[n % len(CULPRITS)], seed + n)
        same += results[0].conclusion == results[1].conclusion
        for counter, result in zip(sums, results, strict=True):
            counter[result.outcome] += 1
        said = "   ".join(f"{r.outcome:15s} {r.conclusion:34s} {r.hours:5.1f} h" for r in results)
        print(f"  {results[0].culprit:14s} {said}", flush=True)
    event, full = sums
    more, less = max(event["right"], full["right"]), min(event["right"], full["right"])
    p = min(1.0, 2 * exact.fisher(more, cases, less, cases).p_value)
    wrong = full["blamed_wrongly"] + full["wrongly_cleared"]
    print(f"  the same words {same} of {cases}; right {event['right']} and {full['right']} "
          f"(Fisher, two-sided p = {p:.3g}); full world wrong {wrong}")  # fmt: skip
    return p >= ODD and wrong <= cases / 20


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--short", action="store_true", help="the form for CI")
    parser.add_argument("--cases", type=int)
    parser.add_argument("--drives", type=int, help="of each case, for the counts")
    parser.add_argument("--seed", type=int, default=1000)
    asked = parser.parse_args()
    cases = asked.cases or (8 if asked.short else 16)
    drives = asked.drives or (1 if asked.short else 4)
    good = agreement(3 * cases, drives, asked.seed)
    good &= conclusions(cases, asked.seed + 500)
    print("kept" if good else "MISSED")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
