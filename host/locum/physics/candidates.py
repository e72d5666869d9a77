"""Good states of a side-by-side network for every target: a few each, smooth in the target.

Theory of operation. Conductances add. The wipers are sorted by their full-scale resistance and
given parts: the highest is *fine*, the next *medium*, the one or two others *coarse*. For a target
the coarse wipers take nearly everything, stepping in turn (one code of one wiper at a time), the
medium takes what the current limit keeps from them, and the fine one is solved for the rest. A
handful of working points of the fine wiper gives a handful of states. All of them change by single
codes when the target changes a little, which is what keeps the excursions of a ramp small.

:mod:`bank` has the parts, :mod:`sharing` the ways to share, :mod:`wiper_codes` the codes of each.
Below about 120 ohm the steps of every wiper are coarse and a table of all low codes is searched
instead (:mod:`states`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.physics.bank import Bank, Targets
from locum.physics.sharing import SLOTS, fine_points, variants
from locum.physics.wiper_codes import codes_of, neighbours, polish, solve_fine

OVERLAP_CURRENT = 1.15
"""By how much the plan's current limit may be passed where a smaller set of hot branches is offered:
without it the wipers would have no room left to share the change out (1.6 mA of a rated 2.5 mA)."""


@dataclass(eq=False)
class Candidates:
    """``n`` targets, ``k`` states each, ``w`` wipers. Unused slots have infinite ``error_ln``."""

    codes: np.ndarray
    """int16 [n, k, w]"""
    out: np.ndarray
    """bool [n, k, w]"""
    hot: np.ndarray
    """uint8 [n, k]"""
    siemens: np.ndarray
    """float64 [n, k, w], leakage where out. [S]"""
    error_ln: np.ndarray
    """float64 [n, k], ln(set / target)."""
    lower_hot: np.ndarray
    """bool [n, k], a smaller set of hot branches than the rule's."""

    @classmethod
    def empty(cls, n: int, k: int, w: int) -> Candidates:
        """All slots unused."""
        return cls(
            np.zeros((n, k, w), np.int16),
            np.ones((n, k, w), bool),
            np.zeros((n, k), np.uint8),
            np.zeros((n, k, w)),
            np.full((n, k), np.inf),
            np.zeros((n, k), bool),
        )


def candidates(bank: Bank, targets: Targets, strict: bool = False) -> Candidates:
    """States for every target; ``strict``: the current limit holds in the overlap as well."""
    slots = SLOTS
    n, w = len(targets.ohm), len(bank.tables)
    found = Candidates.empty(n, slots, w)
    used = np.zeros(n, np.intp)
    for rows, variant in variants(bank, targets):
        rows = rows[used[rows] < slots]
        if len(rows):
            here = targets.at(rows)
            if variant.lower and not strict:
                here.cap_siemens = here.cap_siemens * OVERLAP_CURRENT
            for point in fine_points(bank, here, variant):
                keep = used[rows] < slots
                _put(bank, found, used, rows, keep, here, variant, point)
    return found


def _put(bank, found, used, rows, keep, here, variant, point) -> None:
    """Work one option out and write it into the rows' next free slots."""
    rest = here.siemens - bank.network.hot_siemens[variant.hot]
    codes, out = codes_of(bank, here, variant, rest, *point)
    missing = np.abs(solve_fine(bank, here, rest, codes, out))
    if bank.medium is not None:
        for shifts in neighbours(bank, variant):
            polish(bank, here, shifts, rest, codes, out, missing)
    siemens = _siemens(bank, here, codes, out)
    total = siemens.sum(axis=1) + bank.network.hot_siemens[variant.hot]
    error = np.log((bank.network.series_ohm + 1.0 / total) / here.ohm)
    rows, slot = rows[keep], used[rows[keep]]
    found.codes[rows, slot] = codes[keep]
    found.out[rows, slot] = out[keep]
    found.hot[rows, slot] = variant.hot
    found.siemens[rows, slot] = siemens[keep]
    found.error_ln[rows, slot] = error[keep]
    found.lower_hot[rows, slot] = variant.lower
    used[rows] += 1


def _siemens(bank: Bank, here: Targets, codes, out) -> np.ndarray:
    siemens = np.empty(codes.shape)
    for wiper in range(codes.shape[1]):
        g = bank.siemens(wiper, codes[:, wiper], here.grown_ohm[:, wiper])
        siemens[:, wiper] = np.where(out[:, wiper], bank.gone[wiper], g)
    return siemens
