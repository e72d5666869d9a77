"""The coolant of an event-level drive: when it is warm, and its coarse trace."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from .response import WARM_C

WARM_TAU_S = 320.0
"""One lump: 20 to 75 degC in 10 min towards 85-90 degC."""
TRACE_S = 60.0
LONGEST_H = 24.0
TRACE_T = np.arange(0, LONGEST_H * 3600 + 1, TRACE_S)
_TRACE_WARM = np.exp(-TRACE_T / WARM_TAU_S)


@lru_cache(maxsize=1024)
def warm_after_s(start_c: int, above_c: float) -> float:
    """Seconds of driving until the coolant is that warm; inf: never. [degC]"""
    if above_c >= WARM_C:
        return math.inf
    gap = (WARM_C - above_c) / (WARM_C - start_c)
    return -WARM_TAU_S * math.log(gap) if gap < 1 else 0.0


@lru_cache(maxsize=1024)
def coarse_trace(start_c: int, drift_c: float, n: int) -> np.ndarray:
    """Temperature as the sensor's ohms say it: a drifted one reads low, growing with heat."""
    trace_c = WARM_C + (start_c - WARM_C) * _TRACE_WARM[:n]
    if drift_c:
        trace_c = trace_c - drift_c * np.clip(trace_c / 60.0, 0, 1)
    trace_c.flags.writeable = False
    return trace_c
