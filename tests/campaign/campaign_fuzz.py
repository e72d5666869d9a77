"""Scenario files nobody tuned for: every parameter drawn from a wide range, wrong conclusions counted.

    python tests/campaign/campaign_fuzz.py [--short] [--files N] [--cases N] [--seed N]

Each file goes through the reader as text, as a stranger's would. Prints the sums by culprit and each
file with a wrong conclusion; exit 1 if blamed wrongly or wrongly cleared is over 2 % by more than
chance allows (exact lower 95 % limit).
"""

from __future__ import annotations

import argparse
import math
import os
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from locum.jobs.trial import CaseResult, run_case
from locum.verdict.exact import clopper_pearson
from locum.virtual.hidden import CULPRITS
from locum.virtual.scenario_file import parse_scenario

FILES, CASES, SHORT_FILES = 200, 16, 12
WRONG_MAX = 0.02
WRONG = ("blamed_wrongly", "wrongly_cleared")


def drawn(rng: np.random.Generator) -> dict[str, dict[str, object]]:
    """Tables of one random scenario. Ranges reach beyond what a road is likely to offer."""

    def log(low: float, high: float) -> float:
        return float(math.exp(rng.uniform(math.log(low), math.log(high))))

    def flat(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    def rarely(value: float, chance: float = 0.5) -> float:
        return value if rng.random() < chance else 0.0

    drive_h = flat(0.75, 4.0)
    median_s = log(0.005, 0.2)
    stages = rng.random() < 0.2
    module: dict[str, object] = {"pull_up_ohm": [log(500, 20_000)]}
    if stages:
        module = {"pull_up_ohm": [10_000.0, 909.0909], "switch_down_v": 1.2, "switch_up_v": 4.05}
    return {
        "trial": {"budget_h": log(8, 80), "drive_h": drive_h},
        "rate": {
            "bursts_per_exposed_h": log(0.2, 60),
            "case_shape": log(0.7, 8),
            "drive_shape": log(0.5, 8),
            "worst_of_spells": int(rng.integers(1, 9)),
        },
        "burst": {"extra_dropouts_mean": rarely(flat(0, 6), 0.8), "gap_s": log(0.5, 40)},
        "dropout": {
            "length_median_s": log(0.05, 5),
            "length_sigma": flat(0, 1.5),
            "residual_ohm": log(1e3, 1e9),
            "towards_hot": rarely(flat(0, 1), 0.3),
        },
        "exposure": {"after_min": flat(0, 0.6) * drive_h * 60, "above_c": flat(20, 85)},
        "innocent": {
            "dropouts_per_h": rarely(log(0.5, 600)),
            "length_median_s": median_s,
            "length_max_s": median_s * log(1.2, 8),
            "shared_cause": rarely(flat(0, 1), 0.3),
        },
        "brake_input": {
            "fault_pulse_median_s": log(0.04, 0.6),
            "driver_pulse_median_s": log(0.8, 4),
            "pulse_sigma": flat(0.2, 0.8),
            "only_when_slowing": rarely(flat(0, 1), 0.3),
        },
        "tap": {
            "wipe_sensor_connector": flat(0, 1),
            "wipe_other": rarely(flat(0, 0.4)),
            "asleep_h": log(1, 200),
        },
        "bench": {"finds_drift": flat(0.5, 1), "false_alarm": rarely(flat(0, 0.08))},
        "module": module
        | {
            "filter_s": rarely(log(0.01, 2), 0.9),
            "confirm_s": rarely(log(0.02, 4), 0.9),
            "case_sigma": flat(0, 0.6),
            "refuse_top_below_c": flat(-20, 60),
            "refuse_top_above_c": flat(105, 180),
        },
        "driver": {
            "own_downshifts_per_h": rarely(log(2, 60), 0.95),
            "brake_share": flat(0, 1),
            "still_foot_factor": rarely(flat(0, 0.5), 0.9),
            "unnoticed_share": rarely(flat(0, 0.15), 0.8),
            "button_hit": flat(0.4, 1),
            "button_own": rarely(flat(0, 0.2), 0.8),
            "button_imagined_per_h": rarely(log(0.03, 1.5), 0.8),
            "disobeys": rarely(flat(0, 0.15)),
        },
        "channels": {
            name: bool(rng.random() > 0.2)
            for name in (
                "node", "ohmmeter_under_mask", "throttle", "brake", "return_offset", "converter",
                "button",
            )
        },
    }  # fmt: skip


def text_of(tables: dict[str, dict[str, object]]) -> str:
    """The file, as TOML."""
    lines = ["schema = 1"]
    for name, table in tables.items():
        lines.append(f"[{name}]")
        for key, value in table.items():
            written = str(value).lower() if isinstance(value, bool) else repr(value)
            lines.append(f"{key} = {written}")
    return "\n".join(lines) + "\n"


def one_file(seed: int, cases: int) -> tuple[int, list[CaseResult]]:
    """One random file and its cases, culprits in turn."""
    text = text_of(drawn(np.random.default_rng(seed)))
    scenario = parse_scenario(text, f"fuzz {seed}")
    return seed, [
        run_case(scenario, CULPRITS[n % len(CULPRITS)], 7919 * seed + n) for n in range(cases)
    ]


def told(seed: int, results: list[CaseResult]) -> None:
    wrong = Counter(f"{r.culprit} -> {r.conclusion}" for r in results if r.outcome in WRONG)
    if wrong:
        said = ", ".join(f"{name} x {n}" for name, n in wrong.most_common())
        print(f"  file {seed}: {said}", flush=True)


def summed(results: list[CaseResult]) -> int:
    """Prints the sums; 1 if over the limit."""
    print(f"\n  {'culprit':<14}{'cases':>7}{'right':>7}{'undec.':>8}{'blamed':>8}{'cleared':>9}")
    for name in (*CULPRITS, "all"):
        mine = [r for r in results if name in (r.culprit, "all")]
        n = Counter(r.outcome for r in mine)
        print(
            f"  {name:<14}{len(mine):>7}{n['right']:>7}{n['undecided']:>8}"
            f"{n['blamed_wrongly']:>8}{n['wrongly_cleared']:>9}"
        )
    missed = 0
    for kind in WRONG:
        count = sum(r.outcome == kind for r in results)
        limits = clopper_pearson(count, len(results))
        over = limits.low > WRONG_MAX
        missed |= over
        print(
            f"  {kind.replace('_', ' ')}: {count} of {len(results)}, exact 95 % limits "
            f"{100 * limits.low:.2f}..{100 * limits.high:.2f} % {'MISSED' if over else 'kept'}"
        )
    return int(missed)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--short", action="store_true", help="the form for CI")
    parser.add_argument("--files", type=int)
    parser.add_argument("--cases", type=int, default=CASES, help="of each file")
    parser.add_argument("--seed", type=int, default=1, help="of the first file")
    asked = parser.parse_args()
    files = asked.files or (SHORT_FILES if asked.short else FILES)
    seeds = range(asked.seed, asked.seed + files)
    every: list[CaseResult] = []
    with ProcessPoolExecutor(os.cpu_count() or 1) as pool:
        for seed, results in pool.map(one_file, seeds, [asked.cases] * files):
            told(seed, results)
            every += results
    return summed(every)


if __name__ == "__main__":
    sys.exit(main())
