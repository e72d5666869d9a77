"""Rows of a table that do not go with the others."""

from __future__ import annotations

import bisect
import itertools
from dataclasses import dataclass

import numpy as np

from locum.physics.curve_base import KELVIN

STUDENT = 6.0
"""Deletion residual, in standard deviations of the other rows, from which a row is an outlier.
Weighed against the published tables in tests/published/data, rounded to as little as two figures: none
of their rows is named at 6, while a slip of one digit in the second place is."""
LEAST_C = 0.8
"""Smaller misses than this are never called outliers: coarse tables miss by as much. [K]"""
MOST_ROWS_FOR_PAIRS = 70
"""Pairs are tried up to this many rows: some 2400 pairs, a tenth of a second."""


@dataclass(frozen=True)
class Outlier:
    """A row that the others do not expect."""

    index: int
    off_c: float
    """Its temperature by the others minus its own. [K]"""
    expected_ohm: float
    """What the others expect at its temperature. [ohm]"""


def turning_rows(celsius: np.ndarray, ohms: np.ndarray) -> list[int]:
    """Fewest rows to take away so that the rest rise or fall strictly, in whichever way needs fewer.

    Indices into the arrays as given. Where one row is enough but two could be blamed (each beside the
    other), it is the one without which the rest are smoother.
    """
    order = np.lexsort((-ohms, celsius))
    falling = _rows_outside_longest(-ohms[order])
    rising_order = np.lexsort((ohms, celsius))
    rising = _rows_outside_longest(ohms[rising_order])
    sign = -1.0 if len(falling) <= len(rising) else 1.0
    if sign > 0:
        order, falling = rising_order, rising
    if len(falling) == 1:
        falling = [_roughest(falling[0], sign * ohms[order], celsius[order], ohms[order])]
    return sorted(int(order[i]) for i in falling)


def _roughest(found: int, rising: np.ndarray, celsius: np.ndarray, ohms: np.ndarray) -> int:
    """Of the rows whose removal leaves ``rising`` strictly rising, the one the others like least."""
    places = np.arange(len(rising))
    able = [i for i in places if np.all(np.diff(rising[places != i]) > 0)]
    inverse, ln_ohm = 1.0 / (celsius + KELVIN), np.log(ohms)

    def roughness(i: np.integer) -> float:
        rest = places != i
        x = inverse[rest] - inverse[rest].mean()
        coefficients = polynomial(x, ln_ohm[rest], min(2, len(x) - 2))
        return float(np.sum((np.polyval(coefficients, x) - ln_ohm[rest]) ** 2))

    return int(min(able, key=roughness)) if able else found


def outliers(celsius: np.ndarray, ohms: np.ndarray, rounding_c: np.ndarray) -> list[Outlier]:
    """Rows that the other rows miss by far, worst first.

    A falling table is held against one smooth curve through all other rows. A rising one has a knee near
    its hot end that no such curve follows, so there each row is held against its neighbours.
    ``rounding_c`` is each row's standard uncertainty by rounding. [K]
    """
    if len(celsius) < 5:
        return []
    if float((celsius - celsius.mean()) @ (ohms - ohms.mean())) < 0:
        return _off_the_curve(celsius, ohms, rounding_c)
    if len(np.unique(celsius)) < len(celsius):
        return []  # neighbours at one temperature have no slope; the fit itself tells of them
    return _off_the_neighbours(celsius, ohms, rounding_c)


def _off_the_neighbours(
    celsius: np.ndarray, ohms: np.ndarray, rounding_c: np.ndarray
) -> list[Outlier]:
    """Rows that parabolas of R against t through their neighbours miss: platinum is one, silicon nearly.

    Two parabolas are drawn for each row, through two neighbours before and one after it and the other way
    round. Where they differ, the neighbours tell little: a wide gap, or an outlier among them.
    """
    order = np.argsort(celsius, kind="stable")
    found: list[Outlier] = []
    while len(order) >= 6 and len(found) < max(1, len(celsius) // 5):
        t, r = celsius[order], ohms[order]
        slope = np.maximum(np.abs(np.gradient(r, t)), 1e-9)
        pairs = np.array([_from_neighbours(i, t, r) for i in range(1, len(t) - 1)])
        expected, differ = pairs.mean(axis=1), np.abs(np.diff(pairs, axis=1)[:, 0])
        off = (r[1:-1] - expected) / slope[1:-1]
        scale = 1.4826 * np.median(np.abs(off)) + 2 * rounding_c[order][1:-1]
        scale = np.hypot(scale, differ / slope[1:-1])
        student = np.where(np.abs(off) > LEAST_C, np.abs(off) / np.maximum(scale, 1e-9), 0.0)
        worst = int(np.argmax(student))
        if student[worst] <= STUDENT:
            break
        expected_here = float(expected[worst])
        found.append(Outlier(int(order[worst + 1]), float(off[worst]), expected_here))
        order = np.delete(order, worst + 1)
    return found


def _from_neighbours(at: int, t: np.ndarray, r: np.ndarray) -> tuple[float, float]:
    """What two parabolas through neighbours expect at a row; near an end both are the same three rows'."""
    before, after = max(at - 2, 0), min(at + 2, len(t) - 1)
    left = [before, at - 1, at + 1] if before < at - 1 else [at - 1, at + 1, after]
    right = [at - 1, at + 1, after] if after > at + 1 else left
    values = [float(polynomial(t[near] - t[at], r[near], 2)[-1]) for near in (left, right)]
    return values[0], values[1]


def _off_the_curve(celsius: np.ndarray, ohms: np.ndarray, rounding_c: np.ndarray) -> list[Outlier]:
    """Rows that a smooth curve through the rest misses.

    One row at a time, the worst first, is taken out and the rest is looked at again; at most a fifth of
    the rows. Two outliers can hide each other by the scatter they make together, so where no single
    row stands out every pair is tried.
    """
    kept = np.arange(len(celsius))
    found: list[Outlier] = []
    most = max(1, len(celsius) // 5)
    while len(kept) >= 5 and len(found) < most:
        sets = [(i,) for i in range(len(kept))]
        worst = _worst_set(sets, celsius[kept], ohms[kept], rounding_c[kept])
        if not worst and found == [] and 8 <= len(kept) <= MOST_ROWS_FOR_PAIRS:
            pairs = list(itertools.combinations(range(len(kept)), 2))
            worst = _worst_set(pairs, celsius[kept], ohms[kept], rounding_c[kept])
        if not worst:
            break
        out = kept[list(worst)]
        kept = np.delete(kept, list(worst))
        found += [_described(int(index), kept, celsius, ohms) for index in out]
    return found


def _worst_set(
    sets: list[tuple[int, ...]], celsius: np.ndarray, ohms: np.ndarray, rounding_c: np.ndarray
) -> tuple[int, ...]:
    """The rows whose removal leaves the others smoothest, if each of them then stands out."""
    kelvin = celsius + KELVIN
    inverse = 1.0 / kelvin
    design = _design(np.log(ohms), len(ohms) - len(sets[0]))
    freedom = len(ohms) - len(sets[0]) - design.shape[1]
    if freedom < 1:
        return ()
    best: tuple[float, tuple[int, ...]] = (np.inf, ())
    q, _ = np.linalg.qr(design)
    residual = inverse - q @ (q.T @ inverse)
    hat = q @ q.T
    total = float(residual @ residual)
    for rows in sets:
        # The sum of squares without some rows, from the fit with them (Cook and Weisberg 1982).
        at = list(rows)
        inner = np.eye(len(at)) - hat[np.ix_(at, at)]
        if np.linalg.det(inner) < 1e-9:
            continue
        deleted = np.linalg.solve(inner, residual[at])
        left = total - float(residual[at] @ deleted)
        if left < best[0]:
            off_c = np.abs(deleted) * kelvin[at] ** 2
            scatter_c = np.sqrt(max(left, 0.0) / freedom) * kelvin[at] ** 2
            spread = np.hypot(scatter_c, rounding_c[at]) * np.sqrt(np.diag(np.linalg.inv(inner)))
            stands_out = np.all((off_c > LEAST_C) & (off_c > STUDENT * spread))
            best = (left, rows if stands_out else ())
    return best[1]


def _design(x: np.ndarray, rows: int) -> np.ndarray:
    """A curve with as many terms as so many rows bear: Steinhart and Hart's three, or a polynomial."""
    terms = min(max((rows - 1) // 2, 2), 5)
    if terms == 3:
        return np.stack([np.ones_like(x), x, x**3 / 100.0], axis=1)
    centred = (x - x.mean()) / max(float(np.ptp(x)), 1e-9)
    return np.stack([centred**power for power in range(terms)], axis=1)


def _described(index: int, kept: np.ndarray, celsius: np.ndarray, ohms: np.ndarray) -> Outlier:
    """What the rows kept expect of another, between its neighbours in ln R against 1/T."""
    expected = expected_ohm(float(celsius[index]), celsius[kept], ohms[kept])
    steepness = _steepness_at(float(celsius[index]), celsius[kept], ohms[kept])
    kelvin = float(celsius[index]) + KELVIN
    inverse = 1.0 / kelvin + np.log(ohms[index] / expected) / steepness
    off = 1.0 / inverse - kelvin if inverse > 1e-3 else np.inf
    return Outlier(index, float(off), expected)


def expected_ohm(at_c: float, celsius: np.ndarray, ohms: np.ndarray) -> float:
    """What other rows expect at a temperature: a parabola of ln R against 1/T through the nearest. [ohm]"""
    x = 1.0 / (celsius + KELVIN) - 1.0 / (at_c + KELVIN)
    near = np.argsort(np.abs(x), kind="stable")[:4]
    ln_ohm = np.log(ohms[near])
    # Rows that contradict each other may throw the parabola anywhere: it is kept near them.
    expected = np.clip(polynomial(x[near], ln_ohm, 2)[-1], ln_ohm.min() - 5, ln_ohm.max() + 5)
    return float(np.exp(expected))


def _steepness_at(at_c: float, celsius: np.ndarray, ohms: np.ndarray) -> float:
    """d ln R/d(1/T) of the rows around a temperature, of all rows if those nearest share one. [K]"""
    for count in (3, len(celsius)):
        near = np.argsort(np.abs(celsius - at_c), kind="stable")[:count]
        x = 1.0 / (celsius[near] + KELVIN)
        line = polynomial(x - x.mean(), np.log(ohms[near]), 1)
        if len(line) > 1 and line[0] != 0:
            return float(line[0])
    return np.inf


def polynomial(x: np.ndarray, y: np.ndarray, degree: int) -> np.ndarray:
    """Coefficients of a least squares polynomial, highest power first.

    The degree is cut to what the different values of x can bear, so equal rows do no harm.
    """
    degree = max(0, min(degree, len(np.unique(x)) - 1))
    scale = float(np.max(np.abs(x), initial=0.0)) or 1.0
    solution, *_ = np.linalg.lstsq(np.vander(x / scale, degree + 1), y, rcond=None)
    return solution / scale ** np.arange(degree, -1, -1.0)


def _rows_outside_longest(values: np.ndarray) -> list[int]:
    """Indices outside the longest strictly rising subsequence (patience sorting)."""
    ends: list[float] = []
    at_end: list[int] = []
    before = [-1] * len(values)
    for i, value in enumerate(values.tolist()):
        place = bisect.bisect_left(ends, value)
        before[i] = at_end[place - 1] if place else -1
        ends[place : place + 1] = [value]
        at_end[place : place + 1] = [i]
    kept, at = set(), at_end[-1] if at_end else -1
    while at >= 0:
        kept.add(at)
        at = before[at]
    return [i for i in range(len(values)) if i not in kept]
