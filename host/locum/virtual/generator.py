"""Event-level cases: draw one in secret, drive it, check it on the bench."""

from __future__ import annotations

import numpy as np

from .case import BenchResult, Case, EventLog, Order


def draw_case(scenario, rng: np.random.Generator, culprit: str | None = None) -> Case:
    """One secret case of a scenario; ``culprit`` None: drawn by its mix."""
    raise NotImplementedError


def drive(case: Case, order: Order, rng: np.random.Generator) -> EventLog:
    """Carry out an order; ``case.hours`` grows by its hours."""
    raise NotImplementedError


def bench(case: Case, kind: str, rng: np.random.Generator) -> BenchResult:
    """A bench check (``BENCH_KINDS``)."""
    raise NotImplementedError
