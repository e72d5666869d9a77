"""Good states of a side-by-side network for every target: a few each, smooth in the target.

Theory of operation. Conductances add. The wipers are sorted by their full-scale resistance and
given parts: the highest is *fine*, the next *medium*, the one or two others *coarse*. For a target
the coarse wipers take nearly everything, stepping in turn (one code of one wiper at a time), the
medium takes what the current limit keeps from them, and the fine one is solved for the rest. A
handful of working points of the fine wiper gives a handful of states. All of them change by single
codes when the target changes a little, which is what keeps the excursions of a ramp small.

A coarse wiper that cannot go high enough leaves (*pattern*). Of the hot branches the set with the
most conductance is taken that leaves the wipers 3 % (they are known better than any wiper); near
the point where that set changes the next smaller one is offered too, so that the path may choose
where it switches. Below about 120 ohm the steps of every wiper are coarse and a table of all low
codes is searched instead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.physics.network import Network

SLOTS = 6
OPTIONS = 3
WIPER_SHARE = 0.03
"""Least part of the conductance that the wipers keep beside the hot branches (CIRCUIT 4)."""
OVERLAP = 0.5
"""Up to this wiper share the next smaller set of hot branches is offered too: switching one in
where the wipers keep little passes through values 19 K off, where they keep a third, 13 K."""
FINE_LN = 3e-4
"""Half a step of the fine wiper, in ln R, that is still welcome: 0.01 K at 3 %/K."""


@dataclass(eq=False)
class Candidates:
    """``n`` targets, ``k`` states each, ``w`` wipers. Unused slots have infinite ``cost``."""

    codes: np.ndarray
    """int16 [n, k, w]"""
    out: np.ndarray
    """bool [n, k, w]"""
    hot: np.ndarray
    """uint8 [n, k]"""
    siemens: np.ndarray
    """float64 [n, k, w], 0 where out. [S]"""
    error_ln: np.ndarray
    """float64 [n, k], ln(set / target)."""
    lower_hot: np.ndarray
    """bool [n, k], a smaller set of hot branches than the rule's."""

    @classmethod
    def empty(cls, n: int, k: int, w: int) -> Candidates:
        return cls(
            np.zeros((n, k, w), np.int16),
            np.ones((n, k, w), bool),
            np.zeros((n, k), np.uint8),
            np.zeros((n, k, w)),
            np.full((n, k), np.inf),
            np.zeros((n, k), bool),
        )


@dataclass(eq=False)
class Targets:
    """What is asked, per row: net conductance, voltage, wiper growth, limit."""

    ohm: np.ndarray
    siemens: np.ndarray
    """Of everything behind the series part. [S]"""
    grown_ohm: np.ndarray
    """[n, w]"""
    cap_siemens: np.ndarray
    """Highest conductance one wiper may have at its current limit. [S]"""

    def at(self, rows: np.ndarray) -> Targets:
        return Targets(
            self.ohm[rows], self.siemens[rows], self.grown_ohm[rows], self.cap_siemens[rows]
        )


class Bank:
    """The wipers of a network in their parts, with tables for fast search."""

    def __init__(self, network: Network) -> None:
        self.network = network
        tables = [wiper.table_ohm for wiper in network.wipers]
        order = sorted(range(len(tables)), key=lambda i: (tables[i][-1], i))
        # INL of nearly equal parts must not swap the order of the sheet within a kind.
        order = sorted(order, key=lambda i: (round(np.log2(tables[i][-1])), i))
        self.fine = order[-1]
        self.medium = order[-2] if len(order) > 1 else None
        self.coarse = order[:-2][-2:]
        # A measured table may dip by its noise; searching needs it rising.
        self.rising = [np.maximum.accumulate(table) for table in tables]
        self.tables = tables
        self.low = [1.0 / table[-1] for table in tables]

    def code_at_least(self, wiper: int, ohm: np.ndarray) -> np.ndarray:
        """Lowest code whose resistance is at least ``ohm``; the last if none."""
        rising = self.rising[wiper]
        return np.minimum(np.searchsorted(rising, ohm), len(rising) - 1)

    def nearest_code(self, wiper: int, siemens: np.ndarray, grown: np.ndarray) -> np.ndarray:
        """Code whose conductance is nearest."""
        rising = self.rising[wiper]
        ohm = 1.0 / np.maximum(siemens, 1e-9) - grown
        upper = np.clip(np.searchsorted(rising, ohm), 1, len(rising) - 1)
        above = 1.0 / (rising[upper] + grown)
        below = 1.0 / (rising[upper - 1] + grown)
        return np.where(siemens - above < below - siemens, upper, upper - 1)

    def siemens(self, wiper: int, code: np.ndarray, grown: np.ndarray) -> np.ndarray:
        return 1.0 / (self.tables[wiper][code] + grown)


def candidates(bank: Bank, targets: Targets, slots: int = SLOTS) -> Candidates:
    """States for every target, at most ``slots`` each."""
    n, w = len(targets.ohm), len(bank.tables)
    found = Candidates.empty(n, slots, w)
    used = np.zeros(n, np.intp)
    for rows, hot, pattern, lower in _variants(bank, targets):
        _offer(bank, targets, found, used, rows, hot, pattern, lower)
    return found


def _variants(bank: Bank, targets: Targets):
    """(rows, hot bits, wipers of the coarse pattern, is a lower hot set) in order of worth."""
    total = targets.siemens
    sets = np.argsort(bank.network.hot_siemens, kind="stable")
    hot_g = bank.network.hot_siemens[sets]
    best = np.searchsorted(hot_g, (1.0 - WIPER_SHARE) * total, side="right") - 1
    best = np.maximum(best, 0)
    for level in np.unique(best):
        rows = np.flatnonzero(best == level)
        rest = total[rows] - hot_g[level]
        yield from _patterns(bank, rows, rest, int(sets[level]), level == 0, False)
        if level > 0:
            near = rows[rest < OVERLAP * total[rows]]
            rest = total[near] - hot_g[level - 1]
            lower = int(sets[level - 1])
            yield from _patterns(bank, near, rest, lower, False, True)


def _patterns(bank: Bank, rows, rest, hot: int, several: bool, lower: bool):
    """Which coarse wipers are in, given what the wipers have to give together."""
    floor = bank.low[bank.fine] + (bank.low[bank.medium] if bank.medium is not None else 0.0)
    if not bank.coarse:
        yield rows, hot, (), lower
        return
    ones = sorted(bank.low[c] for c in bank.coarse)
    single, pair = ones[0] + 1.05 * floor, sum(ones) + 1.05 * floor
    first = (bank.coarse[int(np.argmin([bank.low[c] for c in bank.coarse]))],)
    every = tuple(bank.coarse)
    if len(every) == 1:
        pair = single
    if not several:
        yield rows[rest < single], hot, (), lower
        if len(every) > 1:
            yield rows[(rest >= single) & (rest < pair)], hot, first, lower
        yield rows[rest >= pair], hot, every, lower
        return
    yield rows[rest < 2.4 * ones[0]], hot, (), lower
    if len(every) > 1:
        yield rows[(rest >= single) & (rest < 2.4 * sum(ones))], hot, first, lower
    yield rows[rest >= pair], hot, every, lower


def _offer(bank, targets, found, used, rows, hot, pattern, lower) -> None:
    """Work out the options of one variant and put them into the rows' free slots."""
    rows = rows[used[rows] < found.hot.shape[1]]
    if not len(rows):
        return
    here = targets.at(rows)
    rest = here.siemens - bank.network.hot_siemens[hot]
    for fine_g in _fine_points(bank, here, rest, pattern):
        keep = used[rows] < found.hot.shape[1]
        _solve(bank, here, rest, fine_g, rows, keep, hot, pattern, lower, found, used)


def _fine_points(bank: Bank, here: Targets, rest, pattern):
    """Working points of the fine wiper: from its least conductance up. [S]"""
    least = bank.low[bank.fine]
    step_ohm = np.diff(bank.rising[bank.fine]).mean()
    slack = here.ohm * here.siemens  # d ln G per d ln R: the series part thins errors out
    most = np.sqrt(2 * FINE_LN * here.siemens * slack / step_ohm)
    if bank.medium is None:
        return [rest]
    if not pattern:
        most = np.clip(most, 1.2 * least, np.maximum(0.6 * rest, 1.2 * least))
        ratios = np.linspace(0.02, 1.0, OPTIONS if bank.coarse else 2 * OPTIONS)
        return [least * (most / least) ** ratio for ratio in ratios]
    share = rest / len(pattern)
    coarse_step = np.diff(bank.rising[pattern[0]]).mean() * share**2
    spread = np.maximum(coarse_step, (most - least) / OPTIONS)
    return [least + spread * (k + 0.6) for k in range(OPTIONS)]


def _solve(bank, here, rest, fine_g, rows, keep, hot, pattern, lower, found, used) -> None:
    grown, cap = here.grown_ohm, here.cap_siemens
    n, w = grown.shape
    codes = np.zeros((n, w), np.int16)
    siemens = np.zeros((n, w))
    out = np.ones((n, w), bool)
    for wiper in range(w):
        codes[:, wiper] = len(bank.tables[wiper]) - 1
    left = rest - fine_g
    if bank.medium is not None:
        medium = _medium(bank, left, cap, grown, pattern)
        enter = np.ones(n, bool)
        if not pattern:  # a single wiper reaches higher than two
            enter = rest > bank.low[bank.fine] + bank.low[bank.medium]
        g = bank.siemens(bank.medium, medium, grown[:, bank.medium])
        codes[:, bank.medium] = np.where(enter, medium, codes[:, bank.medium])
        siemens[:, bank.medium] = np.where(enter, g, 0.0)
        out[:, bank.medium] = ~enter
        left = left - siemens[:, bank.medium]
    if pattern:
        for wiper, code in _coarse(bank, left, cap, grown, pattern):
            codes[:, wiper] = code
            siemens[:, wiper] = bank.siemens(wiper, code, grown[:, wiper])
            out[:, wiper] = False
    last = rest - siemens.sum(axis=1)
    code = bank.nearest_code(bank.fine, last, grown[:, bank.fine])
    code = np.maximum(code, bank.code_at_least(bank.fine, 1.0 / cap - grown[:, bank.fine]))
    codes[:, bank.fine] = code
    siemens[:, bank.fine] = bank.siemens(bank.fine, code, grown[:, bank.fine])
    out[:, bank.fine] = False
    rows, slot = rows[keep], used[rows[keep]]
    found.codes[rows, slot] = codes[keep]
    found.out[rows, slot] = out[keep]
    found.hot[rows, slot] = hot
    found.siemens[rows, slot] = siemens[keep]
    total = siemens.sum(axis=1) + bank.network.hot_siemens[hot]
    made = bank.network.series_ohm + 1.0 / total
    found.error_ln[rows, slot] = np.log(made / here.ohm)[keep]
    found.lower_hot[rows, slot] = lower
    used[rows] += 1


def _medium(bank: Bank, left, cap, grown, pattern) -> np.ndarray:
    """Code of the medium wiper: all that is left, or what the capped coarse ones cannot take."""
    lowest = bank.code_at_least(bank.medium, 1.0 / cap - grown[:, bank.medium])
    if not pattern:
        return np.maximum(bank.nearest_code(bank.medium, left, grown[:, bank.medium]), lowest)
    taken = 0.0
    for wiper in pattern:
        code = bank.code_at_least(wiper, 1.0 / cap - grown[:, wiper])
        taken = taken + bank.siemens(wiper, code, grown[:, wiper])
    # A little more than is needed, so that the coarse wipers keep room to be stepped.
    ohm = 1.0 / np.maximum(left - 0.97 * taken, 1e-9) - grown[:, bank.medium]
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
