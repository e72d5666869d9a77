"""The trial's policy on the same cases at both fidelities: event level, and sample by sample.

    python tests/campaign/campaign_two_fidelities.py [--cases 16] [--seed 1000]

Cases share culprit, rates and module; their drives differ by chance, so that single conclusions may.
Prints every pair and the sums; exit 1 if the full world blames wrongly or clears wrongly more than
one case in twenty, or if right conclusions differ by more than chance allows (Fisher, p < 0.001).
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from unittest.mock import patch

from locum.jobs import trial
from locum.verdict import exact
from locum.virtual import generator
from locum.virtual.full_drive import drive_in_full
from locum.virtual.hidden import CULPRITS
from locum.virtual.scenario import Scenario


def pair(culprit: str, seed: int) -> tuple[trial.CaseResult, trial.CaseResult]:
    """One case worked at the event level and in the full world."""
    event = trial.run_case(Scenario(), culprit, seed)
    with patch.object(generator, "drive", drive_in_full):
        full = trial.run_case(Scenario(), culprit, seed)
    return event, full


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=16)
    parser.add_argument("--seed", type=int, default=1000)
    asked = parser.parse_args()
    sums = (Counter(), Counter())
    for n in range(asked.cases):
        results = pair(CULPRITS[n % len(CULPRITS)], asked.seed + n)
        for counter, result in zip(sums, results, strict=True):
            counter[result.outcome] += 1
        said = "   ".join(f"{r.outcome:15s} {r.conclusion:34s} {r.hours:5.1f} h" for r in results)
        print(f"{results[0].culprit:14s} {said}", flush=True)
    event, full = sums
    p = exact.fisher(event["right"], asked.cases, full["right"], asked.cases).p_value
    wrong = full["blamed_wrongly"] + full["wrongly_cleared"]
    good = p >= 0.001 and wrong <= asked.cases / 20
    print(f"event level {dict(event)}; full world {dict(full)}; p = {p:.3g}: "
          f"{'kept' if good else 'MISSED'}")  # fmt: skip
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
