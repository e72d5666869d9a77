"""The self-calibration on random virtual boards: errors after it, and whether the stated U holds.

    python tests/benchmarks/run.py --only calibration [--boards N | --full]

How one board is calibrated, carried 20 K away and judged: see calibration_campaign.py. Limits are
those of all boards there could be: a campaign misses one only if its boards are too many and too bad for
chance, so that a short run does not fail by its draw. U is the stated one, k = 2; "U/p95" is how much
larger it is than it would have to be to hold 95 % of the errors.
"""

from __future__ import annotations

import time
from collections.abc import Sequence

import numpy as np
from calibration_campaign import CELSIUS, WAYS, Judged, Life, Maker, lives
from table import Limit, Table

USUAL_LIMIT_K, WORST_LIMIT_K = 0.5, 0.7
USUAL_PART, COVERAGE, TIGHTNESS = 0.98, 0.94, 1.3
SWEEP_LIMIT_S = 120.0
DRAWS = 400
"""Of the bootstrap over boards: the points of one board are not independent of each other."""


def tightness(error: np.ndarray, expanded: np.ndarray) -> float:
    """Stated U against what would hold 95 %."""
    return float(1 / np.quantile(error / expanded, 0.95))


def slack(of, *arrays: np.ndarray) -> float:
    """How far a figure of these boards may be from that of all boards: two standard errors."""
    rng = np.random.default_rng(1)
    boards = len(arrays[0])
    draws = rng.integers(0, boards, (DRAWS, boards))
    return 2 * float(np.std([of(*(array[draw] for array in arrays)) for draw in draws]))


def holds(error: np.ndarray, expanded: np.ndarray) -> float:
    return float(np.mean(error <= expanded))


class Campaign:
    """All boards' errors and stated uncertainties as arrays: ``b`` boards, ``w`` ways, ``t`` degC."""

    def __init__(self, judged: Sequence[Judged]) -> None:
        self.error = np.array([one.error_k for one in judged])
        """[b, w, t]"""
        self.expanded = np.array([one.expanded_k for one in judged])
        self.lines = np.array([one.lines_k for one in judged])
        """[b, c, w, t], standard uncertainty."""
        self.names = judged[0].names

    def by_way(self, title: str) -> Table:
        """Each curve and pull-up."""
        rows = []
        for at, (name, pull_up) in enumerate(WAYS):
            error, u = self.error[:, at], self.expanded[:, at]
            board = error.max(axis=1)
            hottest = np.unravel_index(error.argmax(), error.shape)
            rows.append((
                f"{name}, {pull_up / 1000:g} kohm", f"{np.median(board):.3f}",
                f"{np.quantile(board, 0.98):.3f}", f"{board.max():.3f}",
                f"{CELSIUS[hottest[1]]:.0f}", f"{np.quantile(error, 0.95):.3f}",
                f"{holds(error, u):.3f}", f"{tightness(error, u):.2f}",
            ))  # fmt: skip
        header = ("curve, pull-up", "median board", "98 % of boards", "worst", "at degC",
                  "p95 of all", "U holds", "U/p95")  # fmt: skip
        return Table(title, header, rows)

    def by_contribution(self, title: str) -> Table:
        """What each line of the budget is worth, and how the points fare that it rules."""
        variance = self.lines**2
        part = variance / variance.sum(axis=1, keepdims=True)
        ruling = variance.argmax(axis=1)
        rows = []
        for at in np.argsort(-part.mean(axis=(0, 2, 3))):
            here = ruling == at
            error, u = self.error[here], self.expanded[here]
            fares = ("", "", "", "")
            if len(error) > len(self.error):
                fares = (f"{np.quantile(error, 0.95):.3f}", f"{error.max():.3f}",
                         f"{holds(error, u):.3f}", f"{tightness(error, u):.2f}")  # fmt: skip
            line = 2 * self.lines[:, at]
            rows.append((self.names[at], f"{100 * part[:, at].mean():.1f} %",
                         f"{np.median(line):.3f}", f"{line.max():.3f}",
                         f"{100 * here.mean():.1f} %", *fares))  # fmt: skip
        header = ("contribution", "of variance", "median 2u", "largest 2u", "points it rules",
                  "their p95", "worst", "U holds", "U/p95")  # fmt: skip
        return Table(title, header, rows, notes=[self._worst_note()])

    def by_temperature(self, title: str) -> Table:
        """Each temperature by itself: what holds on the whole may still be too small at one end."""
        rows = []
        for at, celsius in enumerate(CELSIUS):
            error, u = self.error[..., at], self.expanded[..., at]
            ruling = self.names[int((self.lines[..., at] ** 2).mean(axis=(0, 2)).argmax())]
            rows.append((f"{celsius:.0f}", f"{np.quantile(error, 0.95):.3f}", f"{error.max():.3f}",
                         f"{np.median(u):.3f}", f"{holds(error, u):.3f}",
                         f"{tightness(error, u):.2f}", ruling))  # fmt: skip
        header = ("degC", "p95", "worst", "median U", "U holds", "U/p95", "ruled by")
        return Table(title, header, rows, limits=self._limits_by_temperature())

    def _limits_by_temperature(self) -> list[Limit]:
        pairs = [(self.error[..., at], self.expanded[..., at]) for at in range(len(CELSIUS))]
        held = min(range(len(CELSIUS)), key=lambda at: holds(*pairs[at]))
        wide = max(range(len(CELSIUS)), key=lambda at: tightness(*pairs[at]))
        return [
            Limit(f"U holds the truth even at {CELSIUS[held]:.0f} degC", holds(*pairs[held]),
                  COVERAGE, True, slack(holds, *pairs[held])),
            Limit(f"U against the 95th percentile even at {CELSIUS[wide]:.0f} degC",
                  tightness(*pairs[wide]), TIGHTNESS, slack=slack(tightness, *pairs[wide])),
        ]  # fmt: skip

    def _worst_note(self) -> str:
        board, way, at = np.unravel_index(self.error.argmax(), self.error.shape)
        line = self.names[int(self.lines[board, :, way, at].argmax())]
        name, pull_up = WAYS[way]
        return (
            f"worst of all: {self.error[board, way, at]:.3f} K, U {self.expanded[board, way, at]:.3f} K, "
            f"board {board}, {name} at {CELSIUS[at]:.0f} degC on {pull_up / 1000:g} kohm, "
            f"ruled by: {line}"
        )

    def limits(self) -> list[Limit]:
        """Goals; what chance may do in so few boards is allowed for."""
        board = self.error.max(axis=2)
        limits = []
        for at, (name, pull_up) in enumerate(WAYS):
            where = f"{name}, {pull_up / 1000:g} kohm"
            within = float(np.mean(board[:, at] <= USUAL_LIMIT_K))
            by_chance = 2 * np.sqrt(USUAL_PART * (1 - USUAL_PART) / len(board))
            limits.append(Limit(f"{where}, boards within {USUAL_LIMIT_K:g} K", within, USUAL_PART,
                                at_least=True, slack=by_chance))  # fmt: skip
            limits.append(Limit(f"{where}, worst K", float(board[:, at].max()), WORST_LIMIT_K))
        pair = self.error, self.expanded
        limits.append(Limit("U holds the truth", holds(*pair), COVERAGE, True, slack(holds, *pair)))
        limits.append(Limit("U against the 95th percentile", tightness(*pair), TIGHTNESS,
                            slack=slack(tightness, *pair)))  # fmt: skip
        return limits


def judged_tables(every: Sequence[Life], seconds: float) -> list[Table]:
    """Tables of boards that have lived."""
    campaign = Campaign([life.again for life in every])
    count = len(every)
    table = campaign.by_way(
        f"Self-calibration, +-20 K later, floor measured again, {count} boards [K]"
    )
    table.limits += campaign.limits()
    whole, short = Maker().whole, Maker().short
    table.notes.append(
        f"whole sweep {len(whole)} readings, {whole.seconds:.0f} s; short sweep {len(short)} "
        f"readings, {short.seconds:.1f} s; campaign {seconds:.0f} s"
    )
    table.limits.append(Limit("whole sweep, s", whole.seconds, SWEEP_LIMIT_S))
    lines = campaign.by_contribution(f"By contribution, {count} boards [K]")
    without = Campaign([life.without for life in every if life.without is not None])
    title = f"The same without measuring the floor again, {len(without.error)} boards [K]"
    each = campaign.by_temperature(f"By temperature, {count} boards [K]")
    return [table, each, lines, without.by_way(title)]


def tables(boards: int = 12, full: bool = False) -> list[Table]:
    begin = time.monotonic()
    every = list(lives(boards))
    return judged_tables(every, time.monotonic() - begin)
