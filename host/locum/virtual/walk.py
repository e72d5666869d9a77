"""From reasons not to hold the top state to releases: one walk in order of time."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from .drawing import DELAY_SPREAD, RELOCK_S

FIRST_LOCK_S = 10.0
QUICK = frozenset({"driver", "another_input"})
"""Causes that the module answers by their own short delays."""

Reason = tuple[float, float, float, str]
"""(confirmed_s, delay_s, end_s, cause)"""


@dataclass
class Releases:
    """Every release of a drive, in order of time; three lists of one length."""

    at_s: list[float] = field(default_factory=list)
    held_again_s: list[float] = field(default_factory=list)
    cause: list[str] = field(default_factory=list)

    def add(self, at_s: float, held_again_s: float, cause: str) -> None:
        self.at_s.append(at_s)
        self.held_again_s.append(held_again_s)
        self.cause.append(cause)


def walk(reasons: list[Reason], end_s: float, rng: np.random.Generator) -> Releases:
    """The releases before ``end_s``; ``reasons`` is sorted in place.

    A held state is given up its delay after a reason is confirmed (the earliest if several are),
    even if the reason has gone by then, and held again ``RELOCK_S`` after the last one has ended.
    What comes meanwhile only puts that off.
    """
    reasons.sort()
    releases = Releases()
    # Like the driver's own, a kick-out's delay varies a little each time.
    spread = rng.random(len(reasons)).tolist()
    at, held_from, first = -math.inf, FIRST_LOCK_S, ""
    for (sure, delay, end, cause), u in zip(reasons, spread, strict=True):
        if cause not in QUICK:
            delay *= 1 + DELAY_SPREAD * (2 * u - 1)
        out = sure + delay
        if sure >= held_from:
            if first:
                releases.add(at, held_from, first)
            at, first = out, cause
            held_from = (end if end > at else at) + RELOCK_S
            continue
        if first and out < at:  # the quicker reason of two is the one that releases
            at, first = out, cause
        if end + RELOCK_S > held_from:
            held_from = end + RELOCK_S
    if first and at < end_s:
        releases.add(at, held_from, first)
    return releases
