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
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from locum.errors import Misuse, Remark
from locum.jobs.jsontext import Result
from locum.verdict import evidence as weighing
from locum.verdict.exact import clopper_pearson
from locum.verdict.finding import Plan
from locum.verdict.weigh import assess
from locum.virtual import case as secret
from locum.virtual import generator
from locum.virtual.hand import by_hand
from locum.virtual.scenario_file import Scenario, parse_scenario, read_scenario
from locum.virtual.score import OUTCOMES, outcome

EXPECTED_EDGES = (0, 4, 8, 12, 20, 40, math.inf)


@dataclass(frozen=True)
class CaseResult:
    """One case worked to its end."""

    culprit: str
    guilty: tuple[str, ...]
    outcome: str
    conclusion: str
    hours: float
    drives: int
    played_s: float
    expected_bursts: float
    """Exposed bursts expected in the budget; from the secret, for the table alone."""
    hand_hours: float
    hand_parts: int
    hand_wrong_parts: int
    hand_first_right: bool


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


def drive_facts(log: secret.EventLog, order: secret.Order) -> weighing.Drive:
    """What the log shows, in the verdict's terms."""
    end_s = log.hours * 3600.0
    exposed = ((log.exposed_from_s, end_s),) if log.exposed_from_s < end_s else ()
    return weighing.Drive(
        hours=log.hours,
        exposed=exposed,
        stretches=tuple(weighing.Stretch(*stretch) for stretch in log.stretches),
        kind="swap" if any(s[2] != "real" for s in log.stretches) else "listen",
        tap=order.tap,
        node=_glitches(log.node_glitches),
        under_mask=_glitches(log.ohm_glitches),
        injected_t_s=log.injected_t_s,
        injected_length_s=log.injected_length_s,
        injected_cold=log.injected_ohm > 1000.0,
        injected_ohm=log.injected_ohm,
        release_t_s=log.release_t_s,
        release_regain_s=log.release_regain_s,
        brake_t_s=log.brake_t_s,
        brake_length_s=log.brake_length_s,
        throttle_t_s=log.throttle_t_s,
        mark_t_s=log.mark_t_s,
        offset_t_s=log.offset_t_s,
        offset_length_s=log.offset_length_s,
    )


def _glitches(rows: secret.Glitches | None) -> weighing.Glitches | None:
    if rows is None:
        return None
    return weighing.Glitches(rows.t_s, rows.length_s, rows.towards_cold, rows.residual_ohm)


def known_facts(known: secret.Known) -> weighing.Known:
    """What the technician knows before the first drive."""
    return weighing.Known(
        budget_h=known.budget_h,
        drive_h=known.drive_h,
        after_min=known.after_min,
        pull_up_ohm=tuple(known.pull_up_ohm),
        channels=tuple(name for name, there in known.channels.items() if there),
    )


def _order(plan: Plan) -> secret.Order:
    return secret.Order(
        plan.hours,
        plan.tap,
        tuple(secret.Stretch(*stretch) for stretch in plan.stretches),
        tuple(secret.Injection(*injection) for injection in plan.injections),
    )


def work_case(case: secret.Case, rng: np.random.Generator) -> tuple[str, float, int, float]:
    """Follow the tool's own advice to its end: conclusion, hours, drives, seconds played."""
    known = known_facts(case.known)
    told = case.account
    account = weighing.Account(told.felt, told.exposed_h, told.spells)
    drives: list[weighing.Drive] = []
    benches: list[weighing.Bench] = []
    played_s = 0.0
    while True:
        evidence = weighing.Evidence(known, account, tuple(drives), tuple(benches))
        conclusion, advice = assess(evidence)
        plan = advice.plan
        if advice.kind in ("stop", "repair", "quiet") or plan is None:
            return conclusion, evidence.hours, len(drives), played_s
        if plan.bench:
            found = generator.bench(case, plan.bench, rng)
            benches.append(weighing.Bench(found.kind, found.suspicious, found.hours))
            continue
        order = _order(plan)
        log = generator.drive(case, order, rng)
        drives.append(drive_facts(log, order))
        played_s += log.hours * 3600.0


def run_case(scenario: Scenario, culprit: str | None, seed: int) -> CaseResult:
    """Draw, work and score one case, by the tool and by hand."""
    rng = np.random.default_rng(seed)
    case = generator.draw_case(scenario, rng, culprit)
    hand = by_hand(case, np.random.default_rng(seed + 1))
    conclusion, hours, drives, played_s = work_case(case, rng)
    exposed = max(0.0, case.known.drive_h - case.known.after_min / 60.0)
    budget_drives = case.known.budget_h / case.known.drive_h
    return CaseResult(
        case.truth.culprit,
        tuple(sorted(case.truth.guilty)),
        outcome(scenario, case, conclusion),
        conclusion,
        hours,
        drives,
        played_s,
        case.truth.bursts_per_exposed_h * exposed * budget_drives,
        hand.hours,
        hand.parts,
        hand.wrong_parts,
        hand.first_right,
    )


def _batch(scenario: Scenario, seeds: list[int], culprit: str | None) -> list[CaseResult]:
    return [run_case(scenario, culprit, seed) for seed in seeds]


def run_cases(
    scenario: Scenario, cases: int, seed: int, workers: int, culprit: str | None = None
) -> list[CaseResult]:
    """Cases in order of their seeds; the same whatever the number of workers."""
    seeds = [int(s) for s in np.random.SeedSequence(seed).generate_state(cases, np.uint64) >> 2]
    size = max(1, min(50, math.ceil(cases / workers)))
    batches = [seeds[i : i + size] for i in range(0, cases, size)]
    if workers == 1 or len(batches) == 1:
        return [result for batch in batches for result in _batch(scenario, batch, culprit)]
    with ProcessPoolExecutor(workers) as pool:
        done = pool.map(_batch, *zip(*((scenario, b, culprit) for b in batches), strict=True))
        return [result for batch in done for result in batch]


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
    read, name = _scenario(scenario)
    begun = time.perf_counter()
    results = run_cases(read, cases, seed, workers or os.cpu_count() or 1, culprit)
    return table(results, seed, name, time.perf_counter() - begun)


def _scenario(given: str | Path | None) -> tuple[Scenario, str]:
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
