"""The model of the self-calibration: from parameters to converter counts, with derivatives.

    y = (N + g) (R/(R + Rk) + IL (R||Rk)/VREF) + o + INL(y)              one reading, range on
    R = S + 1/(1/Rw + hot + leaks),   Rw = R0[w, code] + law[w](V)

``law`` is a wiper switch's growth with voltage: 75 ohm kappa[w] (f(V) - 1) as in the reference circuit, and a
departure from it that each chip has in common, linear between knots. ``INL`` is linear between
knots over the converter's scale. Each reading has at most one wiper in, so the 1028 unknowns R0
fall out one by one (Schur complement) and the system that remains has about 170.

Priors (standard deviations) are data-sheet limits taken as rectangular: references 0.1 %, offset 3
and gain 5 counts, hot branches 0.1 %, or wide guesses where nothing better is known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.physics.network import Network
from locum.physics.ohmmeter import Ohmmeter
from locum.physics.pot import wiper_law
from locum.physics.sweep import Readings

LAW_OHM = 75.0
LAW_KNOTS_V = np.array([0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.6, 4.3, 5.3])
LAW_WALK_OHM = np.array([3.0, 3.0, 3.0, 3.0, 3.0, 3.0, 6.0, 6.0, 6.0])
"""How much the departure from the law changes from knot to knot; nothing is measured above the
ohmmeter's reference, where a module's pull-up may well put the wipers."""
KAPPA_SPREAD = 0.5
OFFSET_LSB, GAIN_LSB = 3.0, 5.0
POT_LEAK_A = 50e-9
"""Standard uncertainty of what the potentiometers feed into the measured node, all together, at the
temperature of the calibration: 100 nA is the data sheet's typical figure for a terminal, of either
sign. The ohmmeter sees it while it measures, the module while it is stood in for. [A]"""
METER_LEAK_A = 20e-9
"""The same of the ohmmeter's own switches and converter input. [A]"""
OUT_SIEMENS, OUT_SPREAD = 2e-8, 1.2e-8
"""A wiper that left leaks: 100 nA at 5 V is typical of the part, with a wide spread."""
SERIES_SPREAD_OHM = 3.0
INL_KNOTS = 128
INL_LSB, INL_WALK_LSB, INL_CARRY_LSB = 0.6, 0.12, 0.5
"""Size of the converter's INL, its change per knot, and at the heaviest carries (each eighth)."""
NOISE_LSB = 0.35
UNMODELLED_LSB = 0.12
"""Of one reading: what knots and laws cannot follow."""
SHARED = 1.4
"""Readings of neighbouring codes share what knots and laws cannot follow: about two count as one.
(The reference circuit lets 20 count as one where the converter's shape is not fitted at all.)"""


@dataclass(frozen=True)
class Group:
    """A named range of parameters with one kind of prior: a line of the budget."""

    name: str
    columns: tuple[int, ...]


class Model:
    """Parameters, priors and derivatives for one board's readings."""

    def __init__(self, network: Network, meter: Ohmmeter, readings: Readings) -> None:
        self.network, self.meter = network, meter
        sweep = readings.sweep
        self.on = readings.on
        self.range_index = sweep.range_index.astype(int)
        inside = ~sweep.out
        if (inside.sum(axis=1) > 1).any():
            raise ValueError("a reading of the sweep has more than one wiper in")
        self.has = inside.any(axis=1)
        self.gone = sweep.out.astype(float)
        self.wiper = np.where(self.has, inside.argmax(axis=1), 0)
        taps = np.array([len(wiper.table_ohm) for wiper in network.wipers])
        self.first = np.concatenate([[0], np.cumsum(taps)])
        code = sweep.codes[np.arange(len(sweep)), self.wiper].astype(int)
        self.entry = np.where(self.has, self.first[self.wiper] + code, 0)
        self.hot_bits = (sweep.hot[:, None] >> np.arange(len(network.hot))) & 1
        chips = sorted({wiper.chip for wiper in network.wipers})
        self.chip = np.array([chips.index(wiper.chip) for wiper in network.wipers])
        self._lay_out(len(chips))
        noise = (NOISE_LSB**2 + 1 / 12) / sweep.samples + UNMODELLED_LSB**2
        self.sigma = SHARED * np.sqrt(noise)
        self.net_v = self._voltages()
        self.growth = np.asarray(wiper_law(self.net_v, network.wipers[0].law_supply_v)) - 1.0
        self.knots = hats(self.net_v, np.concatenate([[0.0], LAW_KNOTS_V]))[:, 1:]
        self.inl = hats(self.on, np.linspace(0, meter.counts, INL_KNOTS + 1))

    def _lay_out(self, chips: int) -> None:
        """Give every parameter its column."""
        at = 0

        def take(count: int) -> np.ndarray:
            nonlocal at
            at += count
            return np.arange(at - count, at)

        self.c_ranges = take(len(self.meter.ranges_ohm))
        self.c_offset, self.c_gain, self.c_leak = (take(1)[0] for _ in range(3))
        self.c_out = take(len(self.network.wipers))
        self.c_kappa = take(len(self.network.wipers))
        self.c_knots = take(chips * len(LAW_KNOTS_V)).reshape(chips, -1)
        self.c_series = take(1)[0]
        self.c_hot = take(len(self.network.hot))
        self.c_inl = take(INL_KNOTS + 1)
        self.size = at
        self.groups = (
            Group("range references", tuple(self.c_ranges)),
            Group("converter offset and gain", (self.c_offset, self.c_gain)),
            Group("converter linearity", tuple(self.c_inl)),
            Group("leakage", (self.c_leak, *self.c_out)),
            Group("wiper against voltage", (*self.c_kappa, *self.c_knots.reshape(-1))),
            Group("series and hot branches", (self.c_series, *self.c_hot)),
        )

    def priors(self, off: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Expected values [p] and precision matrix [p, p] of the parameters."""
        mean, spread = np.zeros(self.size), np.ones(self.size)
        root3 = np.sqrt(3.0)
        spread[self.c_ranges] = self.meter.tolerance_pct / 100 / root3
        # A reading with the ranges off shows an offset above zero; below zero it is clipped.
        seen = float(np.median(off))
        clipped = seen < 0.5
        mean[self.c_offset] = -0.45 * OFFSET_LSB if clipped else seen
        spread[self.c_offset] = 0.35 * OFFSET_LSB if clipped else 0.3
        spread[self.c_gain] = GAIN_LSB / root3
        spread[self.c_leak] = np.hypot(POT_LEAK_A, METER_LEAK_A) * 1e9
        mean[self.c_out], spread[self.c_out] = OUT_SIEMENS * 1e9, OUT_SPREAD * 1e9
        mean[self.c_kappa], spread[self.c_kappa] = 1.0, KAPPA_SPREAD
        mean[self.c_series], spread[self.c_series] = self.network.series_ohm, SERIES_SPREAD_OHM
        for column, branch in zip(self.c_hot, self.network.hot, strict=True):
            mean[column], spread[column] = branch.ohm, 0.001 / root3 * branch.ohm + 0.03
        precision = np.diag(spread**-2.0)
        for row in self.c_knots:
            precision[np.ix_(row, row)] = _walk(len(row), LAW_WALK_OHM, anchored=True)
        walk = np.full(INL_KNOTS, INL_WALK_LSB)
        walk[INL_KNOTS // 8 - 1 :: INL_KNOTS // 8] = INL_CARRY_LSB
        walk[INL_KNOTS // 8 :: INL_KNOTS // 8] = INL_CARRY_LSB
        shape = _walk(INL_KNOTS + 1, walk, anchored=False)
        shape += np.eye(INL_KNOTS + 1) / INL_LSB**2
        precision[np.ix_(self.c_inl, self.c_inl)] = shape
        return mean, precision

    def start(self) -> np.ndarray:
        """First guess of every R0, from its best reading with nominal values. [ohm]"""
        ohm = self.meter.ohm(self.range_index, self.on / self.meter.counts)
        step = self.meter.relative_step(self.range_index, ohm)
        plain = self.has & (self.hot_bits.sum(axis=1) == 0)
        order = np.argsort(-step, kind="stable")
        order = order[plain[order]]
        start = np.full(self.first[-1], np.nan)
        start[self.entry[order]] = ohm[order] - self.network.series_ohm
        return np.maximum(start, 1.0)

    def predict(self, theta: np.ndarray, table: np.ndarray):
        """Counts [n] and derivatives by the parameters [n, p] and by the own R0 [n]."""
        n, counts = len(self.on), float(self.meter.counts)
        kappa, knots = theta[self.c_kappa], theta[self.c_knots]
        grown = LAW_OHM * kappa[self.wiper] * self.growth
        grown = grown + (self.knots * knots[self.chip[self.wiper]]).sum(axis=1)
        wiper_ohm = np.maximum(table[self.entry] + grown, 1.0)
        hot_ohm = theta[self.c_hot]
        out = 1e-9 * self.gone @ theta[self.c_out]
        siemens = self.has / wiper_ohm + (self.hot_bits / hot_ohm).sum(axis=1) + out
        net = 1.0 / siemens
        ohm = theta[self.c_series] + net
        rk0 = np.asarray(self.meter.ranges_ohm)[self.range_index]
        rk = rk0 * (1.0 + theta[self.c_ranges][self.range_index])
        x = ohm / (ohm + rk)
        leak = 1e-9 * theta[self.c_leak] / self.meter.vref_v
        scale = counts + theta[self.c_gain]
        y = scale * (x + leak * x * rk) + theta[self.c_offset] + self.inl @ theta[self.c_inl]
        by_ohm = scale * rk / (ohm + rk) ** 2 * (1.0 + leak * rk)
        j = np.zeros((n, self.size))
        j[np.arange(n), self.c_ranges[self.range_index]] = -scale * x * (1 - x) * rk0 / rk
        j[:, self.c_offset] = 1.0
        j[:, self.c_gain] = x
        j[:, self.c_leak] = scale * x * rk * 1e-9 / self.meter.vref_v
        j[:, self.c_out] = -(by_ohm * net**2 * 1e-9)[:, None] * self.gone
        j[:, self.c_series] = by_ohm
        j[:, self.c_hot] = by_ohm[:, None] * self.hot_bits * (net[:, None] / hot_ohm) ** 2
        own = by_ohm * self.has * (net / wiper_ohm) ** 2
        j[np.arange(n), self.c_kappa[self.wiper]] = own * LAW_OHM * self.growth
        for chip in range(len(self.c_knots)):
            mine = own * (self.chip[self.wiper] == chip)
            j[:, self.c_knots[chip]] = mine[:, None] * self.knots
        j[:, self.c_inl] = self.inl
        return y, j, own

    def _voltages(self) -> np.ndarray:
        """Voltage on the wiper at each reading, from the reading itself. [V]"""
        ratio = np.clip(self.on / self.meter.counts, 0, 1)
        ohm = self.meter.ohm(self.range_index, ratio)
        return self.meter.vref_v * ratio * np.maximum(ohm - self.network.series_ohm, 0) / ohm


def hats(x: np.ndarray, knots: np.ndarray) -> np.ndarray:
    """Weights [n, knots] of linear interpolation; constant beyond the ends."""
    place = np.clip(np.searchsorted(knots, x, side="right") - 1, 0, len(knots) - 2)
    part = np.clip((x - knots[place]) / (knots[place + 1] - knots[place]), 0.0, 1.0)
    weights = np.zeros((len(x), len(knots)))
    rows = np.arange(len(x))
    weights[rows, place] = 1.0 - part
    weights[rows, place + 1] += part
    return weights


def _walk(size: int, spread, anchored: bool) -> np.ndarray:
    """Precision of a random walk; ``anchored``: it begins at zero."""
    if anchored:
        steps = np.eye(size) - np.eye(size, k=-1)
        return steps.T @ np.diag(np.broadcast_to(np.asarray(spread, float) ** -2, size)) @ steps
    steps = np.eye(size)[1:] - np.eye(size)[:-1]
    return steps.T @ np.diag(np.broadcast_to(np.asarray(spread, float) ** -2, size - 1)) @ steps
