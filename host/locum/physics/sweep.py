"""What the board measures of itself: which states on which range, and what it read.

The whole sweep takes every code of every wiper alone on its two or three best ranges: the same
resistance seen on different ranges is what tells the converter's faults, the references' and the
wiper's voltage from each other. Hot branches are read alone, together, and beside one wiper at
many codes, so that the series part does not rest on two places of the converter's scale.

The short sweep before each stretch repeats a few of those readings; only differences count then.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.physics.network import Network
from locum.physics.ohmmeter import Ohmmeter

SAMPLES = 10
"""Readings with the range on, and as many with it off: with settling 30 ms in all at 1 kHz."""
ANCHOR_SAMPLES = 64
SETTLE_SAMPLES = 5
SAMPLE_RATE_HZ = 1000.0
WORST_STEP = 0.012
"""A third range is used where one of its counts is worth at most 1.2 % of the resistance."""
FLOOR_CODES = (0, 1, 2, 3, 4, 5)
SCALE_PARTS = (0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True, eq=False)
class Sweep:
    """States to be measured, one row each; ``w`` wipers."""

    range_index: np.ndarray
    """int [n]"""
    codes: np.ndarray
    """int16 [n, w]"""
    out: np.ndarray
    """bool [n, w]"""
    hot: np.ndarray
    """uint8 [n]"""
    samples: np.ndarray
    """int [n]"""

    def __len__(self) -> int:
        return len(self.range_index)

    @property
    def seconds(self) -> float:
        """How long the board takes, the talk with it left out. [s]"""
        return float((2 * (self.samples + SETTLE_SAMPLES)).sum() / SAMPLE_RATE_HZ)

    def at(self, rows) -> Sweep:
        """A part of it: to go on after an interruption."""
        return Sweep(
            self.range_index[rows], self.codes[rows], self.out[rows], self.hot[rows],
            self.samples[rows],
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Readings:
    """What a sweep read; rows that are still missing are NaN."""

    sweep: Sweep
    on: np.ndarray
    """float [n], mean counts with the range on."""
    off: np.ndarray
    """float [n], mean counts with all ranges off."""
    half_counts: float | None = None
    """Counts of the channel at half the reference, if the board has it."""

    @property
    def missing(self) -> np.ndarray:
        """Rows that are still to be read."""
        return np.flatnonzero(~(np.isfinite(self.on) & np.isfinite(self.off)))

    @classmethod
    def none_yet(cls, sweep: Sweep) -> Readings:
        return cls(sweep, np.full(len(sweep), np.nan), np.full(len(sweep), np.nan))


def calibration_sweep(network: Network, meter: Ohmmeter) -> Sweep:
    """Everything the joint fit wants; under two minutes on the reference board."""
    rows: list[tuple[int, dict[int, int], int, int]] = []
    for index, wiper in enumerate(network.wipers):
        ohm = wiper.table_ohm + network.series_ohm
        for code, value in enumerate(ohm):
            for number in _best_ranges(meter, float(value)):
                rows.append((number, {index: code}, 0, SAMPLES))
    rows += _anchors(network, meter)
    return _sweep(network, rows)


def floor_sweep(network: Network, meter: Ohmmeter) -> Sweep:
    """The short one before each stretch: lowest codes, four higher ones on two ranges each (which
    tells a ladder that grew from leakage that grew), hot branches, everything out. Two seconds; all
    its states are in the whole sweep as well."""
    rows: list[tuple[int, dict[int, int], int, int]] = []
    for index, wiper in enumerate(network.wipers):
        last = len(wiper.table_ohm) - 1
        low = [c for c in FLOOR_CODES if c < last]
        for code in low + [round(part * last) for part in SCALE_PARTS]:
            ohm = float(wiper.table_ohm[code]) + network.series_ohm
            for number in _best_ranges(meter, ohm)[: 1 if code in low else 2]:
                rows.append((number, {index: code}, 0, SAMPLES))
    rows += [(0, {}, 1 << bit, ANCHOR_SAMPLES) for bit in range(len(network.hot))]
    rows.append(_all_out(meter))
    return _sweep(network, rows)


def _best_ranges(meter: Ohmmeter, ohm: float) -> list[int]:
    steps = np.asarray([meter.relative_step(k, ohm) for k in range(len(meter.ranges_ohm))])
    order = [int(k) for k in np.argsort(steps)]
    return order[:2] + [k for k in order[2:3] if steps[k] <= WORST_STEP]


def _anchors(network: Network, meter: Ohmmeter) -> list[tuple[int, dict[int, int], int, int]]:
    every = (1 << len(network.hot)) - 1
    rows: list[tuple[int, dict[int, int], int, int]] = []
    for hot in range(1, every + 1):
        rows += [(k, {}, hot, ANCHOR_SAMPLES) for k in range(min(2, len(meter.ranges_ohm)))]
        last = len(network.wipers[0].table_ohm) - 1
        codes = np.unique(np.round(np.geomspace(1, last, 14)).astype(int))
        rows += [(0, {0: int(code)}, hot, SAMPLES) for code in codes]
    rows.append(_all_out(meter))
    return rows


def _all_out(meter: Ohmmeter) -> tuple[int, dict[int, int], int, int]:
    """Every wiper out, highest range: what still leaks through wipers that left."""
    return len(meter.ranges_ohm) - 1, {}, 0, ANCHOR_SAMPLES


def _sweep(network: Network, rows) -> Sweep:
    n, w = len(rows), len(network.wipers)
    codes = np.tile([len(wiper.table_ohm) - 1 for wiper in network.wipers], (n, 1))
    out = np.ones((n, w), bool)
    for row, (_, inside, _, _) in enumerate(rows):
        for wiper, code in inside.items():
            codes[row, wiper], out[row, wiper] = code, False
    return Sweep(
        np.array([r[0] for r in rows]),
        codes.astype(np.int16),
        out,
        np.array([r[2] for r in rows], np.uint8),
        np.array([r[3] for r in rows]),
    )
