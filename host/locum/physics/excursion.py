"""The values a network passes through while its wipers are written one after another.

Writes take about 25 us each, so for up to 100 us the module sees a mixture of old and new codes.
The order of the writes decides how far such a mixture lies outside the two ends of the move; this
file finds the best order, exactly, and says how far it goes.

Hot branches change in one go between rank 1 and rank 2; wipers of rank 0 and 1 are written before
them, those of rank 2 and 3 after; equal ranks in wiper order.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from locum.physics.network import Network
from locum.physics.states import code_orders


def best_orders(
    network: Network, siemens: np.ndarray, hot: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Order of writes of every move, and the worst value it passes through.

    Parameters
    ----------
    network : Network
    siemens : float array [n, w]
        Conductance of each wiper in each state, 0 where out; move i goes from i-1 to i. [S]
    hot : uint8 array [n]

    Returns
    -------
    rank : uint8 array [n, w]
        Row 0 is the plain order.
    worst_ln : float array [n]
        ln of the intermediate resistance farthest outside the move's two ends; the end's own value
        where none lies outside.
    """
    n, w = siemens.shape
    rank = np.tile(np.arange(w, dtype=np.uint8) % 4, (n, 1))
    end = _ln_ohm(network, siemens, hot)
    worst = end.copy()
    if n < 2:
        return rank, worst
    before, after = siemens[:-1], siemens[1:]
    ends = np.sort(np.stack([end[:-1], end[1:]], axis=1), axis=1)
    moved = (before != after).sum(axis=1)
    switched = np.flatnonzero(hot[:-1] != hot[1:])
    steady = np.flatnonzero((hot[:-1] == hot[1:]) & (moved > 1))
    for rows, solve, items in ((steady, _steady, w), (switched, _switched, w + 1)):
        for part in np.array_split(rows, len(rows) // 2048 + 1):
            if not len(part):
                continue
            hots = hot[:-1][part], hot[1:][part]
            mixed = _mixtures(network, before[part], after[part], *hots, items)
            rank[part + 1], ln = solve(mixed, ends[part], w)
            inside = (ln >= ends[part, 0]) & (ln <= ends[part, 1])
            worst[part + 1] = np.where(inside, end[part + 1], ln)
    return rank, worst


def _ln_ohm(network: Network, siemens: np.ndarray, hot: np.ndarray) -> np.ndarray:
    with np.errstate(divide="ignore"):
        if network.side_by_side:
            total = siemens.sum(axis=-1) + network.hot_siemens[hot]
            return np.log(network.series_ohm + 1.0 / total)
        return np.log(network.layout_ohm(1.0 / siemens, hot))


def _mixtures(network, before, after, hot_before, hot_after, items: int) -> np.ndarray:
    """ln ohms with a subset of the writes done: [rows, 2**items], bit i wiper i, bit w the hot."""
    w = before.shape[1]
    masks = np.arange(1 << items)
    done = ((masks[:, None] >> np.arange(w)) & 1).astype(bool)
    hot = np.where((masks >> w) & 1, hot_after[:, None], hot_before[:, None])
    mixed = np.where(done, after[:, None, :], before[:, None, :])
    return _ln_ohm(network, mixed, hot)


def _outside(ln: np.ndarray, ends: np.ndarray) -> np.ndarray:
    low, high = ends[:, 0], ends[:, 1]
    extra = (1,) * (ln.ndim - 1)
    low, high = low.reshape(-1, *extra), high.reshape(-1, *extra)
    with np.errstate(invalid="ignore"):
        return np.maximum(np.maximum(ln - high, low - ln), 0.0)


def _steady(mixed: np.ndarray, ends: np.ndarray, w: int) -> tuple[np.ndarray, np.ndarray]:
    """Best order without a change of hot branches: shortest path over the subsets of writes."""
    rows, full = len(mixed), (1 << w) - 1
    outside = _outside(mixed[:, : full + 1], ends)
    best = np.full((rows, full + 1), np.inf)
    last = np.zeros((rows, full + 1), np.int8)
    best[:, 0] = 0.0
    for mask in range(1, full + 1):
        for wiper in range(w):
            if mask >> wiper & 1:
                so_far = np.maximum(best[:, mask & ~(1 << wiper)], outside[:, mask])
                better = so_far < best[:, mask]
                best[:, mask] = np.where(better, so_far, best[:, mask])
                last[:, mask] = np.where(better, wiper, last[:, mask])
    rank = np.zeros((rows, w), np.uint8)
    worst, far = mixed[:, full].copy(), np.zeros(rows)
    mask = np.full(rows, full)
    every = np.arange(rows)
    for place in range(w - 1, -1, -1):
        wiper = last[every, mask]
        rank[every, wiper] = min(place, 3)
        mask = mask & ~(1 << wiper.astype(int))
        here = outside[every, mask]
        worst = np.where(here > far, mixed[every, mask], worst)
        far = np.maximum(far, here)
    return rank, worst


@lru_cache(maxsize=4)
def _sequences(w: int) -> tuple[np.ndarray, np.ndarray]:
    """Rank assignments [a, w] and the subsets they pass through [a, w + 2]."""
    ranks = code_orders(w)
    passed = np.zeros((len(ranks), w + 1), int)
    for row, rank in enumerate(ranks):
        order = [int(i) for i in np.argsort(rank, kind="stable")]
        early = int((rank < 2).sum())
        order.insert(early, w)
        mask = 0
        for place, item in enumerate(order):
            mask |= 1 << item
            passed[row, place] = mask
    return ranks.astype(np.uint8), passed


def _switched(mixed: np.ndarray, ends: np.ndarray, w: int) -> tuple[np.ndarray, np.ndarray]:
    """Best order of a move that changes hot branches: all rank assignments are tried."""
    ranks, passed = _sequences(w)
    rank = np.zeros((len(mixed), w), np.uint8)
    worst = np.zeros(len(mixed))
    outside = _outside(mixed, ends)
    for row in range(len(mixed)):
        along = outside[row][passed]
        pick = int(np.argmin(along.max(axis=1)))
        rank[row] = ranks[pick]
        worst[row] = mixed[row][passed[pick]][int(np.argmax(along[pick]))]
    return rank, worst
