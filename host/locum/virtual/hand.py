"""The method without instruments, on the same cases: guess, fit, drive, comeback."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .case import Case


@dataclass(frozen=True)
class HandResult:
    hours: float
    parts: int
    wrong_parts: int
    first_right: bool
    solved: bool


def by_hand(case: Case, rng: np.random.Generator) -> HandResult:
    """Works a fresh case to its end by guesses in the usual order."""
    raise NotImplementedError
