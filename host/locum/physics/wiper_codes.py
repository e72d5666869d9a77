"""Codes of the wipers for one way of sharing and one working point of the fine wiper.

The coarse wipers take nearly everything, stepping in turn (one code of one wiper at a time), the
medium takes what the current limit keeps from them, and the fine one is solved for the rest. Where its
step is coarse, neighbours of the others are tried.
"""

from __future__ import annotations

import numpy as np

from locum.physics.bank import FINE_LN, Bank, Targets
from locum.physics.sharing import Variant


def codes_of(bank: Bank, here: Targets, variant: Variant, rest, fine_g, tilt: int):
    """Codes of all but the fine wiper, for a working point of the fine one."""
    grown, cap = here.grown_ohm, here.cap_siemens
    n, w = grown.shape
    last = np.array([len(table) - 1 for table in bank.tables])
    codes = np.tile(last, (n, 1))
    out = np.ones((n, w), bool)
    left = rest - fine_g
    if bank.medium is not None:
        medium = _medium(bank, left, cap, grown, variant)
        enter = np.ones(n, bool)
        if not variant.pattern:  # a single wiper reaches higher than two
            enter = rest > bank.low[bank.fine] + bank.low[bank.medium]
        codes[:, bank.medium] = np.where(enter, medium, last[bank.medium])
        out[:, bank.medium] = ~enter
        g = bank.siemens(bank.medium, medium, grown[:, bank.medium])
        left = left - np.where(enter, g, 0.0)
    if variant.pattern:
        for wiper, code in _coarse(bank, left, cap, grown, variant.pattern):
            codes[:, wiper] = code
            out[:, wiper] = False
    if tilt:
        a, b = variant.pattern
        least = bank.code_at_least(b, 1.0 / cap - grown[:, b])
        by = np.clip(np.minimum(codes[:, b] - least, last[a] - codes[:, a]), 0, tilt)
        codes[:, a] += by
        codes[:, b] -= by
    out[:, bank.fine] = False
    return codes, out


def solve_fine(bank: Bank, here: Targets, rest, codes, out) -> np.ndarray:
    """Set the fine wiper for what the others leave; returns what is still missing. [S]"""
    fine, grown = bank.fine, here.grown_ohm[:, bank.fine]
    others = np.zeros(len(codes))
    for wiper in range(codes.shape[1]):
        if wiper != fine:
            g = bank.siemens(wiper, codes[:, wiper], here.grown_ohm[:, wiper])
            others += np.where(out[:, wiper], bank.gone[wiper], g)
    code = bank.nearest_code(fine, rest - others, grown)
    code = np.maximum(code, bank.code_at_least(fine, 1.0 / here.cap_siemens - grown))
    codes[:, fine] = code
    return rest - others - bank.siemens(fine, code, grown)


def polish(bank: Bank, here: Targets, shifts, rest, codes, out, missing) -> None:
    """Where the fine wiper's step is coarse, try neighbours of the others and keep the best."""
    poor = np.flatnonzero(missing > 0.8 * FINE_LN * here.siemens)
    if not len(poor):
        return
    part, best, rest = here.at(poor), missing[poor], rest[poor]
    least = {
        wiper: np.where(
            out[poor, wiper],
            len(bank.tables[wiper]),
            bank.code_at_least(wiper, 1.0 / part.cap_siemens - part.grown_ohm[:, wiper]),
        )
        for wiper, _ in shifts[0]
    }
    start, gone = codes[poor], out[poor]
    for shift in shifts:
        trial = start.copy()
        allowed = np.ones(len(poor), bool)
        for wiper, by in shift:
            trial[:, wiper] += by
            allowed &= (trial[:, wiper] >= least[wiper]) & (
                trial[:, wiper] < len(bank.tables[wiper])
            )
            np.minimum(
                np.maximum(trial[:, wiper], 0), len(bank.tables[wiper]) - 1, out=trial[:, wiper]
            )
        left = np.abs(solve_fine(bank, part, rest, trial, gone))
        better = allowed & (left < best)
        codes[poor[better]] = trial[better]
        best = np.where(better, left, best)
    missing[poor] = best


def neighbours(bank: Bank, variant: Variant):
    """Rounds of changes of the other wipers; each round is for the rows that are still poor."""
    if len(variant.pattern) == 2 and variant.even:
        a, b = variant.pattern
        apart = [((a, by), (b, -by)) for by in (1, -1, 2, -2, 3)]
        wide = range(-3, 4)
        return [apart, [((a, i), (b, j)) for i in wide for j in wide if i + j]]
    if variant.pattern and not variant.even:
        near, far = (12, 24, 40, 60, 85), (110, 135, 155, 170, 185)
        return [[((bank.medium, -by),) for by in group] for group in (near, far)]
    return [[((bank.medium, by),) for by in (1, -1, 2, -2, 3)]]


def _medium(bank: Bank, left, cap, grown, variant: Variant) -> np.ndarray:
    """Code of the medium wiper: all that is left, a full part, or what the capped coarse ones
    cannot take."""
    assert bank.medium is not None
    own = grown[:, bank.medium]
    lowest = bank.code_at_least(bank.medium, 1.0 / cap - own)
    if not variant.pattern:
        return np.maximum(bank.nearest_code(bank.medium, left, own), lowest)
    taken = 0.0
    for wiper in variant.pattern:
        code = bank.code_at_least(wiper, 1.0 / cap - grown[:, wiper])
        taken = taken + bank.siemens(wiper, code, grown[:, wiper])
    # A little more than is needed, so that the coarse wipers keep room to be stepped.
    need = left - 0.97 * taken
    if variant.even:
        part = (
            left / 3.2
            if len(variant.pattern) == 2
            else np.minimum(left / 4, 0.6 * bank.low[variant.pattern[0]])
        )
        need = np.maximum(need, part)
    ohm = 1.0 / np.maximum(need, 1e-9) - own
    code = np.searchsorted(bank.rising[bank.medium], ohm, side="right") - 1
    return np.clip(code, lowest, len(bank.rising[bank.medium]) - 1)


def _coarse(bank: Bank, left, cap, grown, pattern):
    """Codes of the coarse wipers, one code of one wiper at a time as the target moves."""
    if len(pattern) == 1:
        wiper = pattern[0]
        ohm = 1.0 / np.maximum(left, 1e-9) - grown[:, wiper]
        lowest = bank.code_at_least(wiper, 1.0 / cap - grown[:, wiper])
        return [(wiper, np.maximum(bank.code_at_least(wiper, ohm), lowest))]
    first, second = pattern
    turns = np.arange(2 * len(bank.rising[first]) - 1)
    ohm_a, ohm_b = bank.rising[first][(turns + 1) // 2], bank.rising[second][turns // 2]
    halves = 2.0 / (1.0 / ohm_a + 1.0 / ohm_b)  # as if both were equal
    both = 0.5 * (grown[:, first] + grown[:, second])
    turn = np.searchsorted(halves, 2.0 / np.maximum(left, 1e-9) - both)
    low_a = bank.code_at_least(first, 1.0 / cap - grown[:, first])
    low_b = bank.code_at_least(second, 1.0 / cap - grown[:, second])
    turn = np.clip(np.maximum(turn, np.maximum(2 * low_a - 1, 2 * low_b)), 0, len(turns) - 1)
    return [(first, (turn + 1) // 2), (second, turn // 2)]
