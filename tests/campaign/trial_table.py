"""The whole trial: a thousand cases of each culprit, beside the hand method, as a Markdown table.

    python tests/campaign/trial_table.py [--each 1000] [--seed 1] [--scenario FILE]

Right, undecided and wrong with exact 95 % limits; hours and parts by hand on the same cases; how fast
cases are played and weighed. Exit 1 if a goal is missed: blamed wrongly and wrongly cleared at most
12 of 1,000 each (so that the limit lies under 2 %), right in 90 % of the cases in which 20 exposed
bursts or more are to be expected (85 for drift and connector), hours at most twice those by hand. A
share misses its goal when its exact upper limit lies below it: a short run is not failed by chance.
"""

from __future__ import annotations

import argparse
import os
import sys
import time

from locum.jobs.trial import CaseResult, TrialResult, run_cases, scenario_of, table
from locum.verdict.exact import clopper_pearson
from locum.virtual.hidden import CULPRITS

WRONG_OF_THOUSAND = 12
LEAST_RIGHT = {"sensor_drift": 0.85, "connector": 0.85, "nothing": 0.0}
HOURS_RATIO, NORMAL_SAID = 2.0, 0.7
SPEED_GOAL, SPEED_FLOOR = 1e6, 1e5
HEAD = (
    "culprit", "right %", "undecided %", "blamed wrongly", "wrongly cleared",
    "right where >= 20 bursts expected %", "hours", "by hand: hours", "parts",
)  # fmt: skip


def share(hits: int, cases: int) -> str:
    """A share with its exact limits, in per cent."""
    if not cases:
        return "none"
    limits = clopper_pearson(hits, cases)
    return f"{100 * hits / cases:.1f} ({100 * limits.low:.1f}..{100 * limits.high:.1f})"


def line(name: str, result: TrialResult) -> str:
    rows = list(result.per_culprit.values())
    enough, right = (sum(r[key] for r in rows) for key in ("cases_20_bursts", "right_20_bursts"))
    cells = (
        name, share(result.right, result.cases), f"{100 * result.undecided / result.cases:.1f}",
        f"{result.blamed_wrongly} of {result.cases}", f"{result.wrongly_cleared} of {result.cases}",
        share(right, enough), f"{result.drive_h_mean:.1f}", f"{result.hand['hours_mean']:.1f}",
        f"{result.hand['parts_mean']:.1f}",
    )  # fmt: skip
    return f"| {' | '.join(cells)} |"


def missed(name: str, result: TrialResult) -> list[str]:
    """Goals that this row misses."""
    found = []
    most = WRONG_OF_THOUSAND * max(result.cases, 100) / 1000
    for kind in ("blamed_wrongly", "wrongly_cleared"):
        if getattr(result, kind) > most:
            found.append(f"{name}: {kind.replace('_', ' ')} {getattr(result, kind)}")
    row = result.per_culprit.get(name)
    if row and row["cases_20_bursts"]:
        right, cases = row["right_20_bursts"], row["cases_20_bursts"]
        if clopper_pearson(right, cases).high < LEAST_RIGHT.get(name, 0.9):
            found.append(f"{name}: right {right} of {cases} where 20 bursts are expected")
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--each", type=int, default=1000, help="cases of each culprit")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--scenario", help="scenario file (without: the open example)")
    asked = parser.parse_args()
    scenario, title = scenario_of(asked.scenario)
    print(f"{title}, {asked.each} cases of each culprit, seed {asked.seed}\n")
    print(f"| {' | '.join(HEAD)} |\n|{'---|' * len(HEAD)}", flush=True)
    every: list[CaseResult] = []
    faults, begun = [], time.perf_counter()
    for number, culprit in enumerate(CULPRITS):
        start = time.perf_counter()
        results = run_cases(
            scenario, asked.each, 1000 * asked.seed + number, asked.workers, culprit
        )
        row = table(results, asked.seed, title, time.perf_counter() - start)
        print(line(culprit, row), flush=True)
        faults += missed(culprit, row)
        every += results
    whole = table(every, asked.seed, title, time.perf_counter() - begun)
    print(line("**all**", whole))
    faults += missed("all", whole)
    return told(whole, every, faults)


def told(whole: TrialResult, every: list[CaseResult], faults: list[str]) -> int:
    nothing = [r for r in every if r.culprit == "nothing"]
    enough = [r for r in nothing if r.expected_bursts >= 20]
    normal, often = (sum(r.conclusion == "normal" for r in rows) for rows in (nothing, enough))
    hand = whole.hand
    print(f"\n`normal` said of {share(normal, len(nothing))} % of the cases with nothing wrong, of {share(often, len(enough))} % where 20 events or more are to be expected (goal 70).")  # fmt: skip
    print(f"Hours {whole.drive_h_mean:.1f} a case, {hand['hours_ratio']:.2f} x those by hand ({hand['hours_mean']:.1f}), which "
          f"fits {hand['wrong_parts_mean']:.1f} wrong parts a case and finds {100 * hand['first_right']:.0f} % with the first.")  # fmt: skip
    print("| exposed bursts expected | cases | right % | wrong |\n|---|---|---|---|")
    for label, row in whole.by_expected_bursts.items():
        wrong = row["blamed_wrongly"] + row["wrongly_cleared"]
        print(f"| {label} | {row['cases']} | {share(row['right'], row['cases'])} | {wrong} |")
    if enough and clopper_pearson(often, len(enough)).high < NORMAL_SAID:
        faults.append(f"normal said of {often} of {len(enough)} where 20 events are to be expected")
    if hand["hours_ratio"] > HOURS_RATIO:
        faults.append(f"hours {hand['hours_ratio']:.2f} x by hand")
    if whole.speed < SPEED_FLOOR:
        faults.append(f"slower than {SPEED_FLOOR:g} x real time")
    used = os.times()
    cpu_s = used.user + used.children_user + used.system + used.children_system
    print(f"\nplayed and weighed at {whole.speed:.3g} x real time in {whole.wall_s:.0f} s, {whole.played_s / cpu_s:.3g} x "
          f"for each second of a core (goal {SPEED_GOAL:g} on two cores, floor {SPEED_FLOOR:g})")  # fmt: skip
    print("all goals reached" if not faults else "missed: " + "; ".join(faults))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
