"""The wipers of a side-by-side network in their parts, and what is asked of them.

Sorted by full-scale resistance the highest wiper is *fine*, the next *medium*, the one or two others
*coarse*; see :mod:`locum.physics.candidates` for what each part does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.physics.network import Network

FINE_LN = 3e-4
"""Half a step of the fine wiper, in ln R, that is still welcome: 0.01 K at 3 %/K."""


@dataclass(eq=False)
class Targets:
    """What is asked, per row: net conductance, voltage, wiper growth, limit."""

    ohm: np.ndarray
    siemens: np.ndarray
    """Of everything behind the series part. [S]"""
    grown_ohm: np.ndarray
    """[n, w]"""
    cap_siemens: np.ndarray
    """Highest conductance one wiper may have at its current limit. [S]"""

    def at(self, rows: np.ndarray) -> Targets:
        """Some of the rows."""
        return Targets(
            self.ohm[rows], self.siemens[rows], self.grown_ohm[rows], self.cap_siemens[rows]
        )


class Bank:
    """The wipers of a network in their parts, with tables for fast search."""

    def __init__(self, network: Network) -> None:
        self.network = network
        tables = [wiper.table_ohm for wiper in network.wipers]
        order = sorted(range(len(tables)), key=lambda i: (tables[i][-1], i))
        # INL of nearly equal parts must not swap the order of the sheet within a kind.
        order = sorted(order, key=lambda i: (round(np.log2(tables[i][-1])), i))
        self.fine = order[-1]
        self.medium = order[-2] if len(order) > 1 else None
        self.coarse = order[:-2][-2:]
        # A measured table may dip by its noise; searching needs it rising.
        self.rising = [np.maximum.accumulate(table) for table in tables]
        self.tables = tables
        self.low = [1.0 / table[-1] for table in tables]
        self.gone = [wiper.out_siemens for wiper in network.wipers]

    def code_at_least(self, wiper: int, ohm: np.ndarray) -> np.ndarray:
        """Lowest code whose resistance is at least ``ohm``; the last if none."""
        rising = self.rising[wiper]
        return np.minimum(np.searchsorted(rising, ohm), len(rising) - 1)

    def nearest_code(self, wiper: int, siemens: np.ndarray, grown: np.ndarray) -> np.ndarray:
        """Code whose conductance is nearest."""
        rising = self.rising[wiper]
        ohm = 1.0 / np.maximum(siemens, 1e-9) - grown
        upper = np.minimum(np.maximum(np.searchsorted(rising, ohm), 1), len(rising) - 1)
        above = 1.0 / (rising[upper] + grown)
        below = 1.0 / (rising[upper - 1] + grown)
        return np.where(siemens - above < below - siemens, upper, upper - 1)

    def siemens(self, wiper: int, code: np.ndarray, grown: np.ndarray) -> np.ndarray:
        """Conductance of a wiper at its codes, ``grown`` by its voltage. [S]"""
        return 1.0 / (self.tables[wiper][code] + grown)
