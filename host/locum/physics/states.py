"""States of a network written out and sorted by resistance, for exact search of the nearest.

Used where no structure helps: any layout that is not side by side, and the lowest codes of the
usual network, where every wiper's step is coarse.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.network import Network

MOST_STATES = 3_000_000
"""About 0.4 s and 150 MB to sort; two full wipers with four switch settings need 270,000."""
LOW_CODES_COARSE = 25
NEAR_LN = 1e-3
UNEVEN = 25.0
"""How an error in ln R and an uneven share of the current are weighed when states are picked."""
LOW_CODES_FINE = (0, 1, 2, 3, 4, 5, 6, 8, 12, 24, 64)


@dataclass(eq=False)
class StateTable:
    """``m`` states, rising in ohms. ``w`` wipers."""

    ln_ohm: np.ndarray
    """float64 [m]"""
    codes: np.ndarray
    """int16 [m, w]"""
    out: np.ndarray
    """bool [m, w]"""
    hot: np.ndarray
    """uint8 [m]"""
    share: np.ndarray
    """float32 [m], largest part of the line's current that one wiper carries, each wiper's part
    counted relative to its own rating."""
    uneven: np.ndarray
    """float32 [m], sum of the squares of the wipers' parts of the current, 0..1."""

    def window(
        self, target_ohm: np.ndarray, line_a: np.ndarray, limit: float, width: int, keep: int
    ):
        """Indices [n, keep] of the nearest states whose wipers stay below ``limit`` of their
        rating at ``line_a`` [A], best first; -1 where there are fewer."""
        result = np.full((len(target_ohm), keep), -1)
        # Rows of nearly the same current together: states over the limit are left out beforehand,
        # else they could fill a whole window.
        group = np.floor(np.log(line_a) / 0.01).astype(int)
        # Where no state can pass the limit all rows are one group.
        group[line_a * float(self.share.max(initial=0.0)) <= limit] = np.iinfo(int).min
        for value in np.unique(group):
            rows = np.flatnonzero(group == value)
            usable = np.flatnonzero(self.share * line_a[rows].max() <= limit)
            if len(usable):
                near = self._nearest(usable, np.log(target_ohm[rows]), width, keep)
                result[rows, : near.shape[1]] = near
        return result

    def _nearest(self, usable: np.ndarray, ln_target: np.ndarray, width: int, keep: int):
        keep, width = min(keep, len(usable)), min(width, len(usable))
        ln_ohm = self.ln_ohm[usable]
        first = np.searchsorted(ln_ohm, ln_target) - width // 2
        index = np.clip(first, 0, len(usable) - width)[:, None] + np.arange(width)
        # Of those that are near enough the even ones: their codes change little from step to step.
        score = ((ln_ohm[index] - ln_target[:, None]) / NEAR_LN) ** 2
        score += UNEVEN * self.uneven[usable][index]
        best = np.argsort(score, axis=1)[:, :keep]
        return usable[np.take_along_axis(index, best, axis=1)]


def every_state(network: Network) -> StateTable:
    """All codes of all wipers and all settings of the hot branches.

    Raises :class:`~locum.errors.Refused` if there are more than can be written out.
    """
    codes = [np.arange(len(wiper.table_ohm)) for wiper in network.wipers]
    leave = [wiper.can_leave for wiper in network.wipers]
    count = (1 << len(network.hot)) * int(np.prod([len(c) + 1 for c in codes]))
    if count > MOST_STATES:
        # Three and more wipers in any layout: keep low codes, where the steps matter, and thin out.
        codes = [c[:: 1 + (i > 0) * 15] for i, c in enumerate(codes)]
        count = (1 << len(network.hot)) * int(np.prod([len(c) + 1 for c in codes]))
    if count > MOST_STATES:
        raise Refused(
            Remark(
                "network_too_large",
                "board sheet, [network]",
                f"at most {MOST_STATES:,} states in a layout that is not side by side",
                f"{count:,}",
                "put the wipers side by side, or leave some out",
            )
        )
    return _table(network, codes, leave, range(1 << len(network.hot)))


def low_states(network: Network, coarse, fine) -> StateTable:
    """The lowest codes of a side-by-side network, all hot branches on; ``coarse`` and ``fine`` are
    indices of wipers."""
    codes = []
    for index, wiper in enumerate(network.wipers):
        last = len(wiper.table_ohm) - 1
        if index in coarse:
            codes.append(np.arange(min(LOW_CODES_COARSE, last + 1)))
        else:
            codes.append(np.array([c for c in LOW_CODES_FINE if c < last] + [last]))
    return _table(network, codes, [False] * len(codes), [(1 << len(network.hot)) - 1], coarse)


def _table(network: Network, codes, leave, hot_sets, balanced=()) -> StateTable:
    w = len(network.wipers)
    axes = [np.append(c, -1) if out else c for c, out in zip(codes, leave, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, w)
    if len(balanced) == 2:  # two wipers of a kind: far apart codes give nothing new
        a, b = balanced
        grid = grid[np.abs(grid[:, a] - grid[:, b]) <= 4]
    parts = []
    for hot in hot_sets:
        out = grid < 0
        last = np.array([len(wiper.table_ohm) - 1 for wiper in network.wipers])
        full = np.where(out, last, grid)
        with np.errstate(divide="ignore", invalid="ignore"):
            ohm = network.resistance_ohm(full, out, hot)
            loads = network.wiper_a(full, out, np.full(len(full), hot), np.ones(len(full)))
        ratings = np.array([wiper.rating_a for wiper in network.wipers])
        share = (loads / ratings).max(axis=1)
        good = np.isfinite(ohm)
        uneven = (loads**2).sum(axis=1)
        parts.append(
            (ohm[good], full[good], out[good], np.full(good.sum(), hot), share[good], uneven[good])
        )
    columns = [np.concatenate(column) for column in zip(*parts, strict=True)]
    ohm, full, out, hot, share, uneven = columns
    order = np.argsort(ohm, kind="stable")
    return StateTable(
        np.log(ohm[order]),
        full[order].astype(np.int16),
        out[order],
        hot[order].astype(np.uint8),
        share[order].astype(np.float32),
        uneven[order].astype(np.float32),
    )


def code_orders(wipers: int) -> np.ndarray:
    """Every way to give each wiper a write rank 0..3; int [4**wipers, wipers]."""
    return np.array(list(itertools.product(range(4), repeat=wipers)))
