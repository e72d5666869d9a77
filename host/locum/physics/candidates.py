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
OVERLAP_CURRENT = 1.15
"""By how much the plan's current limit may be passed in that overlap: without it the wipers would
have no room left to share the change out (1.6 mA of a rated 2.5 mA)."""
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
    """float64 [n, k, w], leakage where out. [S]"""
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
        self.gone = [wiper.out_siemens for wiper in network.wipers]

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


def candidates(bank: Bank, targets: Targets, strict: bool = False) -> Candidates:
    """States for every target; ``strict``: the current limit holds in the overlap as well."""
    slots = SLOTS
    n, w = len(targets.ohm), len(bank.tables)
    found = Candidates.empty(n, slots, w)
    used = np.zeros(n, np.intp)
    for rows, variant in _variants(bank, targets):
        rows = rows[used[rows] < slots]
        if len(rows):
            here = targets.at(rows)
            if variant.lower and not strict:
                here.cap_siemens = here.cap_siemens * OVERLAP_CURRENT
            for point in _fine_points(bank, here, variant):
                keep = used[rows] < slots
                _put(bank, found, used, rows, keep, here, variant, point)
    return found


def _variants(bank: Bank, targets: Targets):
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


def _fine_points(bank: Bank, here: Targets, variant: Variant):
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


def _put(bank, found, used, rows, keep, here, variant, point) -> None:
    """Work one option out and write it into the rows' next free slots."""
    rest = here.siemens - bank.network.hot_siemens[variant.hot]
    codes, out = _codes(bank, here, variant, rest, *point)
    missing = np.abs(_solve_fine(bank, here, rest, codes, out))
    if bank.medium is not None:
        for shifts in _neighbours(bank, variant):
            _polish(bank, here, shifts, rest, codes, out, missing)
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


def _codes(bank: Bank, here: Targets, variant: Variant, rest, fine_g, tilt: int):
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


def _solve_fine(bank: Bank, here: Targets, rest, codes, out) -> np.ndarray:
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


def _polish(bank: Bank, here: Targets, shifts, rest, codes, out, missing) -> None:
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
            trial[:, wiper] = np.clip(trial[:, wiper], 0, len(bank.tables[wiper]) - 1)
        left = np.abs(_solve_fine(bank, part, rest, trial, gone))
        better = allowed & (left < best)
        codes[poor[better]] = trial[better]
        best = np.where(better, left, best)
    missing[poor] = best


def _neighbours(bank: Bank, variant: Variant):
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
