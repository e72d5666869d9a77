"""All campaigns in one run: the trial table first, then every ``campaign_*.py`` beside this file.

    python tests/campaign/run.py [--short] [--cases N] [--seed N] [--only WORD]

The trial plays secret cases of every scenario file beside it by the tool's own advice, prints right,
undecided and wrong with exact limits beside the hand method, and holds them against the file's
expectations and the speed floor. ``--short`` is the form for CI. The last line sums up; exit 1 if a
limit is missed.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import tomllib
from pathlib import Path

from locum.jobs.trial import TrialResult, run_trial

HERE = Path(__file__).resolve().parent
SCENARIOS = HERE / "scenarios"
SHORT_CASES, CASES = 200, 8000
SPEED_FLOOR = 1e5
HOURS_RATIO = 2.0
RIGHT_20 = {"sensor_drift": 0.85, "connector": 0.85}
"""Share right where 20 exposed bursts or more are expected; 0.9 for the other faults."""


def printed(result: TrialResult) -> None:
    print(f"\n{result.scenario}: {result.cases} cases, seed {result.seed}")
    head = (
        "culprit",
        "right",
        "undec.",
        "blamed",
        "cleared",
        "right at >= 20 bursts",
        "hours",
        "by hand",
    )
    print("  {:<14}{:>7}{:>8}{:>8}{:>9}{:>23}{:>8}{:>9}".format(*head))
    for name, row in result.per_culprit.items():
        share = f"{row['right_20_bursts']}/{row['cases_20_bursts']}"
        print(
            f"  {name:<14}{row['right']:>7}{row['undecided']:>8}{row['blamed_wrongly']:>8}"
            f"{row['wrongly_cleared']:>9}{share:>23}{row['hours_mean']:>8.1f}"
            f"{row['hand_hours_mean']:>9.1f}"
        )
    for kind in ("right", "blamed_wrongly", "wrongly_cleared"):
        limits, count = result.limits[kind], getattr(result, kind)
        print(
            f"  {kind.replace('_', ' ')}: {count} of {result.cases}, "
            f"exact 95 % limits {100 * limits['low']:.2f}..{100 * limits['high']:.2f} %"
        )
    hand = result.hand
    print(
        f"  hours {result.drive_h_mean:.1f} a case, by hand {hand['hours_mean']:.1f} "
        f"(ratio {hand['hours_ratio']:.2f}), with {hand['parts_mean']:.1f} parts, first right "
        f"{100 * hand['first_right']:.0f} %"
    )
    print(f"  {result.speed:.2g} x real time with the verdict, {result.wall_s:.1f} s")


def missed(result: TrialResult, expect: dict, goals: bool) -> list[str]:
    """Limits that this table misses; wrong shares count as missed if even their lower limit is over."""
    found = []
    for kind in ("blamed_wrongly", "wrongly_cleared"):
        most = expect.get(f"{kind}_max", 0.02)
        if result.limits[kind]["low"] > most or getattr(result, kind) > max(most * result.cases, 1):
            found.append(f"{result.scenario}: {kind} over {most:.0%}")
    least = expect.get("right_min", 0.0)
    if result.limits["right"]["high"] < least:
        found.append(f"{result.scenario}: right under {least:.0%}")
    if result.speed < SPEED_FLOOR:
        found.append(f"{result.scenario}: slower than {SPEED_FLOOR:g} x real time")
    if goals:
        found += _goals(result)
    return found


def _goals(result: TrialResult) -> list[str]:
    """Goals of the open example."""
    found = []
    if result.hand["hours_ratio"] > HOURS_RATIO * 1.1:
        found.append(f"hours {result.hand['hours_ratio']:.2f} x by hand")
    for name, row in result.per_culprit.items():
        enough = row["cases_20_bursts"]
        if name == "nothing" or enough < 15:
            continue
        share = row["right_20_bursts"] / enough
        least = RIGHT_20.get(name, 0.9)
        if share < least - 2 * (least * (1 - least) / enough) ** 0.5:
            found.append(
                f"{name}: right {share:.0%} where 20 bursts are expected, under {least:.0%}"
            )
    return found


def trials(cases: int, seed: int) -> list[str]:
    faults = []
    for path in sorted(SCENARIOS.glob("*.toml")):
        is_open = path.stem == "open_example"
        result = run_trial(path, cases if is_open else max(cases // 2, 50), seed)
        printed(result)
        expect = tomllib.loads(path.read_text("utf-8")).get("expect", {})
        faults += missed(result, expect, is_open)
    return faults


def others(short: bool, only: str) -> list[str]:
    """Campaigns beside this one: ``main() -> int``, ``--short`` understood."""
    faults = []
    for path in sorted(HERE.glob("campaign_*.py")):
        if only not in path.stem:
            continue
        print(f"\n{path.stem}", flush=True)
        spec = importlib.util.spec_from_file_location(path.stem, path)
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[path.stem] = module
        arguments, sys.argv = sys.argv, [str(path), *(["--short"] if short else [])]
        try:
            spec.loader.exec_module(module)
            code = module.main()
        except SystemExit as end:
            code = end.code
        finally:
            sys.argv = arguments
        if code:
            faults.append(path.stem)
    return faults


def main() -> int:
    parser = argparse.ArgumentParser(description="Run the campaigns and print their tables.")
    parser.add_argument("--short", action="store_true", help="the form for CI")
    parser.add_argument("--cases", type=int, help=f"of the open example (else {CASES})")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--only", default="", metavar="WORD", help="campaigns with this in their name"
    )
    given = parser.parse_args()
    faults = []
    if given.only in "trial":
        faults += trials(given.cases or (SHORT_CASES if given.short else CASES), given.seed)
    faults += others(given.short, given.only)
    print(
        "\n" + ("all limits kept" if not faults else f"{len(faults)} missed: " + "; ".join(faults))
    )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
