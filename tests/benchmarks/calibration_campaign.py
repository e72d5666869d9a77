"""Random virtual boards that calibrate themselves, and how far they are off afterwards.

One board's life in the campaign: powered for a while, it measures itself, warming up as it does so.
Later, 20 K away and powered anew for a while, it measures its floor again and stands in; up to
twenty minutes into the stretch it is set to every temperature, for two curves and three pull-ups.
The error is what the module sees against what was claimed, leakage included; the node divider's
40 Mohm hangs on the line with the real sensor as well and belongs to both. The fit sees counts only.

Boards are independent of each other, so they are shared out to processes; a seed is one board
whatever the number of processes.
"""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from bench_network import CURVES, reference_sheet

from locum.physics.calibrate import fit_calibration
from locum.physics.calibration import Calibration
from locum.physics.choose import choose_codes
from locum.physics.circuit import Thevenin
from locum.physics.floor import with_floor
from locum.physics.network import Network
from locum.physics.ohmmeter import Ohmmeter
from locum.physics.sweep import Readings, Sweep, calibration_sweep, floor_sweep
from locum.physics.uncertainty import network_uncertainty
from locum.virtual.analog import NetworkTruth

CELSIUS = np.arange(-20.0, 121.0, 5.0)
PULL_UPS_OHM = (1000.0, 2490.0, 10_000.0)
WAYS = tuple((name, pull_up) for name in CURVES for pull_up in PULL_UPS_OHM)
AWAY_K = 20.0
CALIBRATED_C = 23.0
POWERED_S = 1800.0
"""A board is calibrated, and later measures its floor, up to so long after its power came on."""
STRETCH_S = 1200.0
"""Length of a stretch by hand: so old may the floor be when a value is set."""
SWEEP_PARTS = 12
WITHOUT_EVERY = 10
"""Every so many boards are judged without their floor measured again as well."""
POLITENESS = 15


@dataclass(frozen=True)
class Judged:
    """One board: ``w`` ways (curve and pull-up), ``t`` temperatures, ``c`` contributions."""

    error_k: np.ndarray
    """[w, t]"""
    expanded_k: np.ndarray
    """[w, t], stated, k = 2."""
    lines_k: np.ndarray
    """[c, w, t], standard uncertainty by contribution."""
    names: tuple[str, ...]


@dataclass(frozen=True)
class Life:
    """What one board went through."""

    seed: int
    again: Judged
    without: Judged | None
    """The same without the short sweep, for some boards."""


class Maker:
    """What all boards have in common."""

    def __init__(self) -> None:
        self.sheet = reference_sheet()
        self.network = Network.from_board(self.sheet)
        self.meter = Ohmmeter.from_board(self.sheet)
        self.whole = calibration_sweep(self.network, self.meter)
        self.short = floor_sweep(self.network, self.meter)
        curves = CURVES.values()
        self.ohm = np.array([curve.resistance_ohm(CELSIUS) for curve in curves])
        self.slope = np.abs([curve.slope_ohm_per_k(CELSIUS) for curve in curves])

    def live(self, seed: int) -> Life:
        """The life of one board."""
        habits = np.random.default_rng([seed, 1])
        truth = NetworkTruth(self.sheet, seed, CALIBRATED_C)
        truth.run(habits.uniform(0, POWERED_S))
        made = fit_calibration(
            self.network,
            self.meter,
            read(truth, self.whole, SWEEP_PARTS),
            str(seed),
            "2026-01-01T00:00:00Z",
            CALIBRATED_C,
        )
        truth.powered_s = 0.0
        truth.set_ambient(CALIBRATED_C + (AWAY_K if seed % 2 else -AWAY_K))
        truth.run(habits.uniform(0, POWERED_S))
        short = read(truth, self.short)
        anew = with_floor(made, self.network, self.meter, short, "2026-01-02T00:00:00Z")
        truth.run(habits.uniform(0, STRETCH_S))
        without = None if seed % WITHOUT_EVERY else self.judge(truth, made)
        return Life(seed, self.judge(truth, anew), without)

    def judge(self, truth: NetworkTruth, made: Calibration) -> Judged:
        """Set every temperature of every way and compare."""
        network = self.network.calibrated(made)
        error, u = np.empty((2, len(CURVES), len(PULL_UPS_OHM), len(CELSIUS)))
        lines: list[np.ndarray] = []
        names: tuple[str, ...] = ()
        for at, pull_up in enumerate(PULL_UPS_OHM):
            source = Thevenin(5.0, pull_up)
            choice = choose_codes(network, self.ohm.reshape(-1), source)
            state = choice.codes, choice.out, choice.hot
            _, seen = truth.standin_on(5.0, pull_up, *state)
            claimed = 1 / (1 / choice.set_ohm + 1 / truth.line_load_ohm)
            stated = network_uncertainty(made, network, *state, source)
            error[:, at] = np.abs(seen - claimed).reshape(self.ohm.shape) / self.slope
            u[:, at] = 2 * stated.u_ohm.reshape(self.ohm.shape) / self.slope
            names = tuple(stated.lines)
            parts = np.array([stated.lines[name] for name in names])
            lines.append(parts.reshape(len(names), *self.ohm.shape) / self.slope)
        shape = len(WAYS), len(CELSIUS)
        by_line = np.stack(lines, axis=2).reshape(len(names), *shape)
        return Judged(error.reshape(shape), u.reshape(shape), by_line, names)


def read(truth: NetworkTruth, sweep: Sweep, parts: int = 1) -> Readings:
    """What the board's converter says of every row; time passes between the parts."""
    on, off = np.empty(len(sweep)), np.empty(len(sweep))
    for piece in np.array_split(np.arange(len(sweep)), parts):
        for samples in np.unique(sweep.samples[piece]):
            rows = piece[sweep.samples[piece] == samples]
            part = sweep.at(rows)
            on[rows], off[rows] = truth.ohm_counts(
                part.range_index, part.codes, part.out, part.hot, int(samples)
            )
        truth.run(sweep.at(piece).seconds)
    return Readings(sweep, on, off, truth.half_counts())


def lives(boards: int, processes: int | None = None) -> Iterator[Life]:
    """Boards 0 to ``boards`` - 1, in order."""
    count = processes or min(os.cpu_count() or 1, max(1, boards // 4))
    if count == 1:
        maker = Maker()
        yield from (maker.live(seed) for seed in range(boards))
        return
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")  # helping processes compute one board each, not all of one
    with multiprocessing.get_context("spawn").Pool(count, _begin) as pool:
        yield from pool.imap(_live, range(boards), chunksize=4)


def _begin() -> None:
    """Of a helping process: give way to others, keep what all boards share."""
    global _maker
    if hasattr(os, "nice"):
        os.nice(POLITENESS)
    _maker = Maker()


def _live(seed: int) -> Life:
    return _maker.live(seed)


_maker: Maker
