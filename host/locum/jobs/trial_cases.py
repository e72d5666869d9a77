"""One secret case after another, worked by the tool's own advice and by hand, and scored."""

from __future__ import annotations

import math
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from locum.verdict import evidence as weighing
from locum.verdict.finding import Plan
from locum.verdict.weigh import assess
from locum.virtual import case as secret
from locum.virtual import generator
from locum.virtual.hand import by_hand
from locum.virtual.scenario_file import Scenario
from locum.virtual.score import outcome


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
