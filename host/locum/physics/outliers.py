"""Rows of a table that do not go with the others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.physics.curve_base import KELVIN

STUDENT = 6.0
"""Deletion residual, in standard deviations of the other rows, from which a row is an outlier.
Weighed against the published tables in tests/published/data, rounded to as little as two figures: none
of their rows is named at 6, while a slip of one digit in the second place is."""
LEAST_C = 0.8
"""Smaller misses than this are never called outliers: coarse tables miss by as much. [K]"""


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

    Indices into the arrays as given. Rows of equal temperature and resistance count as one.
    """
    order = np.lexsort((-ohms, celsius))
    falling = _rows_outside_longest(-ohms[order])
    rising = _rows_outside_longest(ohms[np.lexsort((ohms, celsius))])
    if len(falling) <= len(rising):
        return sorted(int(order[i]) for i in falling)
    order = np.lexsort((ohms, celsius))
    return sorted(int(order[i]) for i in rising)


def outliers(celsius: np.ndarray, ohms: np.ndarray, rounding_c: np.ndarray) -> list[Outlier]:
    """Rows that the other rows miss by far, worst first.

    A falling table is held against one smooth curve through all other rows. A rising one has a knee near
    its hot end that no such curve follows, so there each row is held against its neighbours.
    ``rounding_c`` is each row's standard uncertainty by rounding. [K]
    """
    if len(celsius) < 5:
        return []
    if np.corrcoef(celsius, ohms)[0, 1] < 0:
        return _off_the_curve(celsius, ohms, rounding_c)
    return _off_the_neighbours(celsius, ohms, rounding_c)


def _off_the_neighbours(
    celsius: np.ndarray, ohms: np.ndarray, rounding_c: np.ndarray
) -> list[Outlier]:
    """Rows that the cubic through two neighbours on either side misses."""
    order = np.argsort(celsius, kind="stable")
    found: list[Outlier] = []
    while len(order) >= 6 and len(found) < max(1, len(celsius) // 5):
        t, ln_ohm = celsius[order], np.log(ohms[order])
        slope = np.maximum(np.abs(np.gradient(ln_ohm, t)), 1e-9)
        expected = np.array([_from_neighbours(i, t, ln_ohm) for i in range(len(t))])
        off = (ln_ohm - expected) / slope
        scale = 1.4826 * np.median(np.abs(off)) + 2 * rounding_c[order]
        off[[0, -1]] = 0.0  # the ends have neighbours on one side only
        student = np.where(np.abs(off) > LEAST_C, np.abs(off) / np.maximum(scale, 1e-9), 0.0)
        worst = int(np.argmax(student))
        if student[worst] <= STUDENT:
            break
        found.append(Outlier(int(order[worst]), float(off[worst]), float(np.exp(expected[worst]))))
        order = np.delete(order, worst)
    return found


def _from_neighbours(at: int, t: np.ndarray, ln_ohm: np.ndarray) -> float:
    first = min(max(at - 2, 0), len(t) - 5)
    near = np.delete(np.arange(first, first + 5), at - first)
    return float(np.polyval(np.polyfit(t[near] - t[at], ln_ohm[near], 3), 0.0))


def _off_the_curve(celsius: np.ndarray, ohms: np.ndarray, rounding_c: np.ndarray) -> list[Outlier]:
    """Rows that a smooth curve through the rest misses.

    One row at a time: the row whose deletion residual, in standard deviations of the remaining rows, is
    largest and above ``STUDENT`` is taken out, and the rest is looked at again; at most a fifth of the
    rows.
    """
    kelvin = celsius + KELVIN
    kept = np.arange(len(celsius))
    found: list[Outlier] = []
    while len(kept) >= 5 and len(found) < max(1, len(celsius) // 5):
        design = _design(np.log(ohms), len(kept))
        worst = _worst_row(design[kept], 1.0 / kelvin[kept], kelvin[kept], rounding_c[kept])
        if worst is None:
            break
        index = int(kept[worst])
        kept = np.delete(kept, worst)
        found.append(_described(index, kept, celsius, ohms))
    return found


def _design(x: np.ndarray, rows: int) -> np.ndarray:
    """Powers of ln R: one for every three rows, two at least, five at most."""
    centred = (x - x.mean()) / max(float(np.ptp(x)), 1e-9)
    return np.stack([centred**power for power in range(min(max(rows // 3, 2), 5))], axis=1)


def _worst_row(
    design: np.ndarray, inverse: np.ndarray, kelvin: np.ndarray, rounding_c: np.ndarray
) -> int | None:
    """The row that stands out most, or None if no row stands out."""
    rows, terms = design.shape
    if rows - terms < 2:
        return None
    q, _ = np.linalg.qr(design)
    leverage = np.clip(np.sum(q * q, axis=1), 0.0, 1.0 - 1e-9)
    residual = inverse - q @ (q.T @ inverse)
    deleted = residual / (1.0 - leverage)
    left = np.sum(residual**2) - residual**2 / (1.0 - leverage)
    scatter = np.sqrt(np.maximum(left, 0.0) / (rows - terms - 1))
    spread = np.hypot(scatter, rounding_c / kelvin**2) / np.sqrt(1.0 - leverage)
    with np.errstate(divide="ignore"):
        student = np.abs(deleted) / np.maximum(spread, 1e-300)
    student[np.abs(deleted) * kelvin**2 < LEAST_C] = 0.0
    worst = int(np.argmax(student))
    return worst if student[worst] > STUDENT else None


def _described(index: int, kept: np.ndarray, celsius: np.ndarray, ohms: np.ndarray) -> Outlier:
    """What the rows kept expect of another: temperature and resistance, by a smooth curve."""
    kelvin = celsius + KELVIN
    design = _design(np.log(ohms[kept]), len(kept))
    terms = design.shape[1]
    x = np.log(ohms[kept])
    forward = np.polyfit(x - x.mean(), 1.0 / kelvin[kept], terms - 1)
    at = float(np.log(ohms[index]) - x.mean())
    inverse = float(
        np.polyval(forward, np.clip(at, (x - x.mean()).min() - 1, (x - x.mean()).max() + 1))
    )
    middle = (1.0 / kelvin[kept]).mean()
    backward = np.polyfit(1e3 * (1.0 / kelvin[kept] - middle), x, terms - 1)
    expected = float(np.exp(np.polyval(backward, 1e3 * (1.0 / kelvin[index] - middle))))
    off = 1.0 / inverse - kelvin[index] if inverse > 1e-3 else np.inf
    return Outlier(index, float(off), expected)


def _rows_outside_longest(values: np.ndarray) -> list[int]:
    """Indices outside the longest strictly rising subsequence."""
    count = len(values)
    length = np.ones(count, dtype=int)
    before = np.full(count, -1)
    for i in range(count):
        for j in range(i):
            if values[j] < values[i] and length[j] + 1 > length[i]:
                length[i], before[i] = length[j] + 1, j
    at = int(np.argmax(length)) if count else -1
    kept = set()
    while at >= 0:
        kept.add(at)
        at = int(before[at])
    return [i for i in range(count) if i not in kept]
