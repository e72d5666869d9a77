"""From reasons not to hold the top state to releases: one walk in order of time."""

from __future__ import annotations

import math

import numpy as np

from .drawing import DELAY_SPREAD, RELOCK_S

FIRST_LOCK_S = 10.0
QUICK = frozenset({"driver", "another_input"})
"""Causes that the module answers by their own short delays."""

Reason = tuple[float, float, float, str]
"""(confirmed_s, delay_s, end_s, cause)"""
Release = tuple[float, float, str]
"""(release_s, held_again_s, cause)"""


def walk(reasons: list[Reason], end_s: float, rng: np.random.Generator) -> list[Release]:
    """Every release before ``end_s``, in order; ``reasons`` is sorted in place.

    A held state is given up its delay after a reason is confirmed (the earliest if several are),
    even if the reason has gone by then, and held again ``RELOCK_S`` after the last one has ended.
    What comes meanwhile only puts that off.
    """
    reasons.sort()
    releases: list[Release] = []
    # Like the driver's own, a kick-out's delay varies a little each time.
    spread = rng.random(len(reasons)).tolist()
    at, held_from, first = -math.inf, FIRST_LOCK_S, ""
    for (sure, delay, end, cause), u in zip(reasons, spread, strict=True):
        if cause not in QUICK:
            delay *= 1 + DELAY_SPREAD * (2 * u - 1)
        out = sure + delay
        if sure >= held_from:
            if first:
                releases.append((at, held_from, first))
            at, first = out, cause
            held_from = (end if end > at else at) + RELOCK_S
            continue
        if first and out < at:  # the quicker reason of two is the one that releases
            at, first = out, cause
        if end + RELOCK_S > held_from:
            held_from = end + RELOCK_S
    if first:
        releases.append((at, held_from, first))
    while releases and releases[-1][0] >= end_s:
        releases.pop()
    return releases
