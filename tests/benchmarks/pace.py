"""How slow this core is just now, by a computation that is always the same.

Processor time grows when neighbours share a core's units and caches. A limit on time is therefore
widened by the pace measured beside it: the work of a benchmark against work that does not change.
"""

from __future__ import annotations

import time

import numpy as np

USUAL_S = 0.022
"""What :func:`work` takes on the quiet machine for which the limits were set."""
RUNS = 7


def work() -> float:
    """Plain Python and short arrays in about equal parts, like the programs measured."""
    total, table = 0.0, np.linspace(0.0, 1.0, 257)
    for turn in range(1500):
        row = np.searchsorted(table, table * 0.999) + turn % 3
        total += float(np.minimum(row, 256).sum())
        for step in range(60):
            total += (step * turn) % 7
    return total


def pace() -> float:
    """Times slower than usual, 1 or more; the best of several runs."""
    best = float("inf")
    for _ in range(RUNS):
        begin = time.process_time()
        work()
        best = min(best, time.process_time() - begin)
    return max(1.0, best / USUAL_S)
