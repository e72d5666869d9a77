"""A deck for ngspice, its run, and a judged result."""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

OPTIONS = ".options gmin=1e-13 rshunt=1e13 reltol=1e-5 abstol=1e-13 vntol=1e-7 method=gear"
# rshunt: 10 Tohm from every node to ground. Without it nets that float in a proof make the matrix
# singular, and ngspice ends with a solution that still leaks through its helper conductances.
MOVING = ".options gmin=1e-12 rshunt=1e12 reltol=1e-3 abstol=1e-10 vntol=1e-5 method=gear"
"""For transients: currents of nanoampere do not matter there."""
BAD = "no convergence|singular matrix|aborted|transient op started"


class SimulatorMissing(RuntimeError):
    """ngspice is not installed."""


class SimulationFailed(RuntimeError):
    """ngspice ran but gave no answer; the text holds the end of what it said."""


@dataclass(frozen=True)
class Row:
    """One judged result: `found` must lie within `low`..`high`."""

    what: str
    found: float
    unit: str
    low: float = -np.inf
    high: float = np.inf
    note: str = ""

    @property
    def ok(self) -> bool:
        return bool(np.isfinite(self.found) and self.low <= self.found <= self.high)

    @property
    def limit(self) -> str:
        if np.isinf(self.low):
            return f"<= {self.high:g}"
        if np.isinf(self.high):
            return f">= {self.low:g}"
        return f"{self.low:g} .. {self.high:g}"


@dataclass
class Deck:
    """Circuit, bench and orders of one ngspice run.

    Operating points are asked by `op`: a list of `alter` orders and expressions to read. A
    transient is asked by `tran`.
    """

    title: str
    elements: str
    bench: list[str] = field(default_factory=list)
    points: list[tuple[list[str], list[str]]] = field(default_factory=list)
    transient: tuple[str, list[str]] | None = None

    def op(self, alters: list[str], reads: list[str]) -> None:
        self.points.append((alters, reads))

    def tran(self, orders: str, reads: list[str]) -> None:
        self.transient = (orders, reads)

    def text(self, table: str = "result.txt") -> str:
        """The file as it is kept in `hardware/circuits/` and given to ngspice."""
        control = [".control", "set numdgt=9"]
        for alters, reads in self.points:
            control += [f"alter {alter}" for alter in alters] + ["op"]
            control += [f"let x{i} = {read}" for i, read in enumerate(reads)]
            control.append("echo ROW " + " ".join(f"$&x{i}" for i in range(len(reads))))
        if self.transient:
            orders, reads = self.transient
            control += [f"tran {orders}", "set wr_singlescale", "set wr_vecnames"]
            control.append(f"wrdata {table} " + " ".join(reads))
        control += ["quit", ".endc", ".end"]
        options = MOVING if self.transient else OPTIONS
        return "\n".join([f"* {self.title}", self.elements, *self.bench, options, *control]) + "\n"

    def run(self) -> np.ndarray:
        """Rows of the operating points, or columns time and reads of the transient."""
        program = shutil.which("ngspice")
        if program is None:
            raise SimulatorMissing("ngspice is not installed: apt install ngspice")
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            (folder / "deck.cir").write_text(self.text())
            done = subprocess.run(
                [program, "-b", "deck.cir"], cwd=folder, capture_output=True, text=True, timeout=40
            )
            if self.transient:
                table = folder / "result.txt"
                if not table.exists():
                    raise SimulationFailed(f"{self.title}: {_tail(done)}")
                return np.loadtxt(table, skiprows=1, ndmin=2).T
            rows = [
                [float(word) for word in line.split()[1:]]
                for line in done.stdout.splitlines()
                if line.startswith("ROW")
            ]
            if len(rows) != len(self.points) or re.search(BAD, done.stdout + done.stderr, re.I):
                raise SimulationFailed(f"{self.title}: {_tail(done)}")
            return np.array(rows)


def _tail(done: subprocess.CompletedProcess) -> str:
    return "\n".join((done.stdout + done.stderr).strip().splitlines()[-12:])


def crossing(time_s: np.ndarray, signal: np.ndarray, level: float, after_s: float = 0.0) -> float:
    """First time after `after_s` at which the signal is beyond `level`, seen from its value then.

    Not-a-number if it never is.
    """
    late = time_s >= after_s
    rising = signal[late][0] < level
    hit = late & ((signal >= level) if rising else (signal <= level))
    return float(time_s[hit][0]) if hit.any() else float("nan")
