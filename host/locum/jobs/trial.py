"""``locum trial``: complete cases with a culprit drawn in secret, worked by the tool's own advice.

The generator plays a case and hands back what a perfect review would have seen; this file turns
that into evidence, asks the verdict, carries out the drive it advises, and goes on until it
concludes or the time agreed is used up. What the verdict may not know (the culprit, the scenario's
note, expectations and accepted answers) stays on the other side.
"""

from __future__ import annotations

import math
import os
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from locum.errors import Misuse, Remark
from locum.jobs.jsontext import Result
from locum.jobs.trial_cases import CaseResult, run_case, run_cases
from locum.verdict.exact import clopper_pearson
from locum.virtual.scenario_file import Scenario, parse_scenario, read_scenario
from locum.virtual.score import OUTCOMES

__all__ = ["CaseResult", "TrialResult", "run_case", "run_cases", "run_trial", "table", "trial"]


EXPECTED_EDGES = (0, 4, 8, 12, 20, 40, math.inf)


@dataclass
class TrialResult(Result):
    """The trial's table."""

    cases: int
    right: int
    undecided: int
    blamed_wrongly: int
    wrongly_cleared: int
    drive_h_mean: float
    seed: int
    scenario: str
    limits: dict[str, dict[str, float]] = field(default_factory=dict)
    """Exact 95 % limits of each share."""
    per_culprit: dict[str, dict] = field(default_factory=dict)
    by_expected_bursts: dict[str, dict] = field(default_factory=dict)
    hand: dict[str, float] = field(default_factory=dict)
    conclusions: dict[str, int] = field(default_factory=dict)
    wall_s: float = 0.0
    played_s: float = 0.0
    speed: float = 0.0
    """Seconds of driving played and weighed per second of wall time."""


def run_trial(
    scenario: str | Path | None = None,
    cases: int = 200,
    seed: int = 1,
    workers: int | None = None,
    culprit: str | None = None,
) -> TrialResult:
    """Play cases of a scenario and score them.

    Parameters
    ----------
    scenario : str, Path or None
        Path of a scenario file, its text, or None for the open example.
    cases : int
        Total, drawn by the scenario's mix (or all of one ``culprit``).
    workers : int or None
        Processes; None: one for each core.
    """
    if cases < 1:
        raise Misuse(Remark("cases", "--cases", "one case or more", str(cases)))
    read, name = scenario_of(scenario)
    begun = time.perf_counter()
    results = run_cases(read, cases, seed, workers or os.cpu_count() or 1, culprit)
    return table(results, seed, name, time.perf_counter() - begun)


def scenario_of(given: str | Path | None) -> tuple[Scenario, str]:
    if given is None:
        return parse_scenario("schema = 1\n", "open example"), "open example"
    if isinstance(given, str) and "\n" in given:
        return parse_scenario(given), "text"
    return read_scenario(given), Path(given).name


def table(results: list[CaseResult], seed: int, name: str, wall_s: float) -> TrialResult:
    """Sums of many cases."""
    counts = {kind: sum(r.outcome == kind for r in results) for kind in OUTCOMES}
    total = len(results)
    limits = {}
    for kind in OUTCOMES:
        interval = clopper_pearson(counts[kind], total)
        limits[kind] = {"low": interval.low, "high": interval.high}
    played_s = sum(r.played_s for r in results)
    hand_h = float(np.mean([r.hand_hours for r in results]))
    hours = float(np.mean([r.hours for r in results]))
    return TrialResult(
        cases=total,
        **counts,
        drive_h_mean=hours,
        seed=seed,
        scenario=name,
        limits=limits,
        per_culprit={
            culprit: _row([r for r in results if r.culprit == culprit])
            for culprit in sorted({r.culprit for r in results})
        },
        by_expected_bursts=_by_expected(results),
        hand={
            "hours_mean": hand_h,
            "hours_ratio": hours / hand_h if hand_h else math.nan,
            "parts_mean": float(np.mean([r.hand_parts for r in results])),
            "wrong_parts_mean": float(np.mean([r.hand_wrong_parts for r in results])),
            "first_right": float(np.mean([r.hand_first_right for r in results])),
        },
        conclusions={
            c: sum(r.conclusion == c for r in results)
            for c in sorted({r.conclusion for r in results})
        },
        wall_s=wall_s,
        played_s=played_s,
        speed=played_s / wall_s if wall_s > 0 else math.nan,
    )


def _row(results: list[CaseResult]) -> dict:
    row: dict = {"cases": len(results)}
    for kind in OUTCOMES:
        row[kind] = sum(r.outcome == kind for r in results)
    enough = [r for r in results if r.expected_bursts >= 20]
    row["cases_20_bursts"] = len(enough)
    row["right_20_bursts"] = sum(r.outcome == "right" for r in enough)
    row["hours_mean"] = float(np.mean([r.hours for r in results]))
    row["hand_hours_mean"] = float(np.mean([r.hand_hours for r in results]))
    row["hand_parts_mean"] = float(np.mean([r.hand_parts for r in results]))
    names = sorted({r.conclusion for r in results})
    row["conclusions"] = {c: sum(r.conclusion == c for r in results) for c in names}
    return row


def _by_expected(results: list[CaseResult]) -> dict[str, dict]:
    rows = {}
    for low, high in zip(EXPECTED_EDGES, EXPECTED_EDGES[1:], strict=False):
        mine = [r for r in results if r.culprit != "nothing" and low <= r.expected_bursts < high]
        if mine:
            label = f"{low}-{high}" if math.isfinite(high) else f"{low} and more"
            rows[label] = {
                "cases": len(mine),
                **{k: sum(r.outcome == k for r in mine) for k in OUTCOMES},
            }
    return rows


def trial(
    scenario: str | None = None,
    cases: int = 200,
    workers: int | None = None,
    seed: int | None = None,
) -> TrialResult:
    """The command ``locum trial``."""
    return run_trial(scenario, cases, 1 if seed is None else seed, workers)
