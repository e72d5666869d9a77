"""The ways to share a target out among the wipers: which are in, beside which hot branches.

A coarse wiper that cannot go high enough leaves (*pattern*). Of the hot branches the set with the
most conductance is taken that leaves the wipers 3 % (they are known better than any wiper); near
the point where that set changes the next smaller one is offered too, so that the path may choose
where it switches.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.physics.bank import FINE_LN, Bank, Targets

SLOTS = 6
OPTIONS = 3
WIPER_SHARE = 0.03
"""Least part of the conductance that the wipers keep beside the hot branches (reference circuit)."""
OVERLAP = 0.5
"""Up to this wiper share the next smaller set of hot branches is offered too: switching one in
where the wipers keep little passes through values 19 K off, where they keep a third, 13 K."""


@dataclass(frozen=True)
class Variant:
    """One way to share a target out, for some of the rows."""

    hot: int
    pattern: tuple[int, ...]
    """Coarse wipers that are in."""
    even: bool
    """The medium wiper takes a full part, so that a branch can leave or enter in small pieces."""
    lower: bool
    """A smaller set of hot branches than the rule's."""
    options: int


def variants(bank: Bank, targets: Targets):
    """(rows, variant) in order of worth."""
    total = targets.siemens
    sets = np.argsort(bank.network.hot_siemens, kind="stable")
    hot_g = bank.network.hot_siemens[sets]
    best = np.searchsorted(hot_g, (1.0 - WIPER_SHARE) * total, side="right") - 1
    best = np.maximum(best, 0)
    for level in np.unique(best):
        rows = np.flatnonzero(best == level)
        rest = total[rows] - hot_g[level]
        if level == 0:
            yield from _cold_patterns(bank, rows, rest)
            continue
        yield from _hot_patterns(bank, rows, rest, int(sets[level]), False)
        near = rows[rest < OVERLAP * total[rows]]
        rest = total[near] - hot_g[level - 1]
        yield from _hot_patterns(bank, near, rest, int(sets[level - 1]), True)


def _thresholds(bank: Bank) -> tuple[tuple[int, ...], float, float, float, float]:
    """First coarse wiper, its least conductance and that of all; least totals of one and all in."""
    floor = bank.low[bank.fine] + (bank.low[bank.medium] if bank.medium is not None else 0.0)
    ones = [bank.low[c] for c in bank.coarse]
    first = (bank.coarse[int(np.argmin(ones))],)
    return first, min(ones), sum(ones), min(ones) + 1.05 * floor, sum(ones) + 1.05 * floor


def _hot_patterns(bank: Bank, rows, rest, hot: int, lower: bool):
    """Beside hot branches the patterns differ by little: exactly one for each row."""
    if not bank.coarse:
        yield rows, Variant(hot, (), False, lower, OPTIONS)
        return
    every = tuple(bank.coarse)
    first, _, _, single, pair = _thresholds(bank)
    if len(every) == 1:
        pair = single
    yield rows[rest < single], Variant(hot, (), False, lower, OPTIONS)
    if len(every) > 1:
        yield rows[(rest >= single) & (rest < pair)], Variant(hot, first, False, lower, OPTIONS)
    yield rows[rest >= pair], Variant(hot, every, lower, lower, OPTIONS)


def _cold_patterns(bank: Bank, rows, rest):
    """Without hot branches a wiper that leaves is a large piece: patterns overlap widely, so that
    the path may choose where it leaves."""
    if not bank.coarse:
        yield rows, Variant(0, (), False, False, SLOTS)  # two wipers: no other way to share
        return
    every = tuple(bank.coarse)
    first, one, both, single, pair = _thresholds(bank)
    if len(every) == 1:
        pair, single = single, np.inf
    alone = rest < single if len(every) > 1 else rest < pair
    crowd = rest >= min(2.4 * one, 2.4 * both)
    yield rows[alone], Variant(0, (), False, False, OPTIONS + 1)
    shared = ~alone & (rest < 2.4 * one)
    yield rows[shared], Variant(0, (), False, False, 2)
    yield rows[shared], Variant(0, (), True, False, 1)
    if len(every) > 1:
        middle = ~alone & (rest < 2.4 * both)
        yield rows[middle], Variant(0, first, False, False, 2)
        yield rows[middle], Variant(0, first, True, False, 1)
    yield rows[rest >= pair], Variant(0, every, False, False, OPTIONS)
    yield rows[(rest >= pair) & crowd], Variant(0, every, True, False, 1)


def fine_points(bank: Bank, here: Targets, variant: Variant):
    """(conductance of the fine wiper [S], codes that the two coarse ones are tilted apart)."""
    rest = here.siemens - bank.network.hot_siemens[variant.hot]
    if bank.medium is None:
        return [(rest, 0)]
    least = bank.low[bank.fine]
    step_ohm = np.diff(bank.rising[bank.fine]).mean()
    slack = here.ohm * here.siemens  # d ln G per d ln R: the series part thins errors out
    most = np.sqrt(2 * FINE_LN * here.siemens * slack / step_ohm)
    if not variant.pattern:
        if variant.even:
            return [(0.45 * rest, 0)]
        most = np.clip(most, 1.2 * least, np.maximum(0.6 * rest, 1.2 * least))
        ratios = np.linspace(0.02, 1.0, variant.options)
        return [(least * (most / least) ** ratio, 0) for ratio in ratios]
    share = rest / (len(variant.pattern) + variant.even)
    coarse_step = np.diff(bank.rising[variant.pattern[0]]).mean() * share**2
    spread = np.maximum(coarse_step, (most - least) / OPTIONS)
    if variant.even and len(variant.pattern) == 2:
        # Its step is coarse here, so it stays low; tilting gives sums in between.
        return [(least + 0.6 * spread, 2 * k) for k in range(variant.options)]
    return [(least + spread * (k + 0.6), 0) for k in range(variant.options)]
