"""The self-calibration on random virtual boards: errors after it, and whether the stated U holds.

    python tests/benchmarks/run.py --only calibration [--boards N | --full]

Each board measures itself once, then stands at +-20 K (half of them each way), measures its floor
again, and is set to -20..120 degC in steps of 5 K for curves A and B and pull-ups of 1, 2.49 and 10 kohm.
The error is what the module sees against what was claimed, leakage included; the node divider's 40 Mohm
hangs on the line with the real sensor as well and belongs to both. U is the stated one, k = 2.
"""

from __future__ import annotations

import time
from collections import Counter

import numpy as np
from bench_network import CURVES, reference_sheet
from table import Limit, Table

from locum.physics.calibrate import fit_calibration
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
AWAY_K = 20.0
CALIBRATED_C = 23.0
USUAL_LIMIT_K, WORST_LIMIT_K = 0.5, 0.7
COVERAGE, TIGHTNESS = 0.94, 1.3


def read(truth: NetworkTruth, sweep: Sweep) -> Readings:
    """What the board's converter says of every row."""
    on, off = np.empty(len(sweep)), np.empty(len(sweep))
    for samples in np.unique(sweep.samples):
        rows = np.flatnonzero(sweep.samples == samples)
        part = sweep.at(rows)
        on[rows], off[rows] = truth.ohm_counts(
            part.range_index, part.codes, part.out, part.hot, int(samples)
        )
    return Readings(sweep, on, off, truth.half_counts())


class Campaign:
    """Errors and stated uncertainties of many boards."""

    def __init__(self, sheet: dict, again: bool = True) -> None:
        self.sheet, self.again = sheet, again
        self.network, self.meter = Network.from_board(sheet), Ohmmeter.from_board(sheet)
        self.whole = calibration_sweep(self.network, self.meter)
        self.short = floor_sweep(self.network, self.meter)
        self.error: dict[tuple[str, float], list[np.ndarray]] = {}
        self.expanded: dict[tuple[str, float], list[np.ndarray]] = {}
        self.ruling: Counter[str] = Counter()

    def add(self, seed: int) -> None:
        truth = NetworkTruth(self.sheet, seed, CALIBRATED_C)
        made = fit_calibration(
            self.network, self.meter, read(truth, self.whole), str(seed), "2026-01-01", CALIBRATED_C
        )
        truth.set_ambient(CALIBRATED_C + (AWAY_K if seed % 2 else -AWAY_K))
        if self.again:
            short = read(truth, self.short)
            made = with_floor(made, self.network, self.meter, short, "2026-01-02")
        network = self.network.calibrated(made)
        for name, curve in CURVES.items():
            ohm = curve.resistance_ohm(CELSIUS)
            slope = np.abs(curve.slope_ohm_per_k(CELSIUS))
            for pull_up in PULL_UPS_OHM:
                source = Thevenin(5.0, pull_up)
                choice = choose_codes(network, ohm, source)
                state = choice.codes, choice.out, choice.hot
                _, seen = truth.standin_on(5.0, pull_up, *state)
                claimed = 1 / (1 / choice.set_ohm + 1 / truth.line_load_ohm)
                stated = network_uncertainty(made, network, *state, source)
                key = (name, pull_up)
                error = np.abs(seen - claimed) / slope
                self.error.setdefault(key, []).append(error)
                self.expanded.setdefault(key, []).append(2 * stated.u_ohm / slope)
                self.ruling[stated.ruling(int(error.argmax()))] += 1

    def table(self, title: str, judged: bool) -> Table:
        rows, limits = [], []
        every_error, every_u = [], []
        for (name, pull_up), errors in self.error.items():
            error, u = np.array(errors), np.array(self.expanded[name, pull_up])
            every_error.append(error)
            every_u.append(u)
            board = error.max(axis=1)
            rows.append((
                f"{name}, {pull_up / 1000:g} kohm", f"{np.median(board):.3f}",
                f"{np.quantile(board, 0.98):.3f}", f"{board.max():.3f}",
                f"{CELSIUS[np.unravel_index(error.argmax(), error.shape)[1]]:.0f}",
                f"{np.mean(error <= u):.3f}", f"{1 / np.quantile(error / u, 0.95):.2f}",
            ))  # fmt: skip
            if judged:
                where = f"{name}, {pull_up / 1000:g} kohm"
                within = float(np.mean(board <= USUAL_LIMIT_K))
                limits.append(Limit(f"{where}, boards within 0.5 K", within, 0.98, at_least=True))
                limits.append(Limit(f"{where}, worst K", float(board.max()), WORST_LIMIT_K))
        error, u = np.array(every_error), np.array(every_u)
        if judged:
            limits.append(Limit("U holds the truth", float(np.mean(error <= u)), COVERAGE, True))
            tight = float(1 / np.quantile(error / u, 0.95))
            limits.append(Limit("U against the 95th percentile", tight, TIGHTNESS))
        ruling = ", ".join(f"{name} {n}" for name, n in self.ruling.most_common(4))
        header = ("curve, pull-up", "median board", "98 %", "worst", "at degC", "U holds", "U/p95")
        return Table(title, header, rows, limits, [f"what rules the worst points: {ruling}"])


def tables(boards: int = 12, full: bool = False) -> list[Table]:
    sheet = reference_sheet()
    campaign, without = Campaign(sheet), Campaign(sheet, again=False)
    begin = time.monotonic()
    for seed in range(boards):
        campaign.add(seed)
    for seed in range(max(2, boards // 10)):
        without.add(seed)
    title = f"Self-calibration, +-20 K later, floor measured again, {boards} boards [K]"
    table = campaign.table(title, judged=True)
    table.notes.append(
        f"whole sweep {len(campaign.whole)} readings, {campaign.whole.seconds:.0f} s; short sweep "
        f"{len(campaign.short)} readings, {campaign.short.seconds:.1f} s; campaign "
        f"{time.monotonic() - begin:.0f} s"
    )
    table.limits.append(Limit("whole sweep, s", campaign.whole.seconds, 120.0))
    title = f"The same without measuring the floor again, {max(2, boards // 10)} boards [K]"
    return [table, without.table(title, judged=False)]
