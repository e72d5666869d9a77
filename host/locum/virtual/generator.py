"""Event-level cases: draw one in secret, drive it, check it on the bench.

A case is drawn by ``drawing.py`` and driven by ``event_drive.py``; this file is the way in.
"""

from __future__ import annotations

import numpy as np

from .case import BENCH_KINDS, BenchResult, Case, EventLog, Order
from .drawing import Memory, draw_case, module_facts
from .event_drive import EventDrive

__all__ = ["bench", "draw_case", "drive", "module_facts"]

BENCH_H = 0.5


def drive(case: Case, order: Order, rng: np.random.Generator) -> EventLog:
    """Carry out an order; ``case.hours`` grows by its hours. ValueError for hours out of range."""
    return EventDrive(case, order, rng).log()


def bench(case: Case, kind: str, rng: np.random.Generator) -> BenchResult:
    """A bench check (``BENCH_KINDS``). The same check of the same case gives the same result
    again: it is the same sensor on the same thermometer."""
    if kind not in BENCH_KINDS:
        raise ValueError(f"unknown bench check '{kind}'; known: {', '.join(BENCH_KINDS)}")
    memory: Memory = case.memory
    case.hours += BENCH_H
    if kind not in memory.bench:
        table = memory.scenario.bench
        drifts = case.truth.culprit == "sensor_drift"
        chance = table.finds_drift if drifts else table.false_alarm
        memory.bench[kind] = bool(rng.random() < chance)
    return BenchResult(kind, memory.bench[kind], BENCH_H)
