"""How well a calibrated stand-in's ohms are known, line by line, and the loop closed by the node.

Every line is one kind of cause; causes that wipers have in common are added with their signs
before they are squared. What the module's voltage adds: the wiper law at that voltage, and leakage.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.physics.budget import Contribution
from locum.physics.calibration import SPAN_K, Calibration
from locum.physics.calibration_model import POT_LEAK_A, hats
from locum.physics.circuit import (
    Thevenin,
    current_a,
    resistance_from_node_ohm,
    u_resistance_from_node_ohm,
)
from locum.physics.network import Network
from locum.physics.pot import wiper_law
from locum.physics.propagation import Mean, weighted_mean

LINE_LEAK_A = 15e-9
"""Standard uncertainty of what the protection diodes and the node's buffer feed into the line: a few
tens of nA of either sign, which no measurement at rest sees. [A]"""
LEAK_SPAN = 1.7
"""Root mean square of the growth of :data:`~locum.physics.calibration_model.POT_LEAK_A` over +-20 K
where nothing was measured again."""
LEAST_AWAY_K = 2.0
LEAK_GROWTH = 1.7
"""Leakage at +20 K is four times that of the calibration; its spread over +-20 K, in parts of it."""
SWITCH_PER_K, LADDER_PER_K, SERIES_PER_K, LEAK_PER_K = 3.5e-3, 6e-5, 8e-3, 0.07
"""What a kelvin does: to wiper switches, ladders and leakage as parts of them, to the series part in
ohm (fuse, relay, solid-state switch)."""
WITHIN_CHIP = 0.04
"""Of a wiper's growth with voltage: what two wipers of one chip do differently."""


@dataclass(frozen=True, eq=False)
class NetworkUncertainty:
    """Standard uncertainties of set resistances, ``n`` of them."""

    lines: dict[str, np.ndarray]
    """Name of a cause -> float [n]. [ohm]"""

    @property
    def u_ohm(self) -> np.ndarray:
        """All lines together, float [n]. [ohm]"""
        return np.sqrt(sum(line**2 for line in self.lines.values()))

    def ruling(self, index: int) -> str:
        """The line with the largest part in one value."""
        return max(self.lines, key=lambda name: float(self.lines[name][index]))

    def contributions(self, index: int) -> list[Contribution]:
        """The lines of one value for :func:`locum.physics.budget.temperature_budget`."""
        return [
            Contribution(name, std=float(line[index]), distribution="normal")
            for name, line in self.lines.items()
        ]


def network_uncertainty(
    calibration: Calibration,
    network: Network,
    codes,
    out,
    hot,
    source: Thevenin,
    away_k: float | None = None,
) -> NetworkUncertainty:
    """Standard uncertainty of each state, with every contribution named.

    Parameters
    ----------
    calibration : Calibration
    network : Network
        ``network.calibrated(calibration)``, side by side.
    codes, out, hot : arrays [n, w], [n, w], [n]
    source : Thevenin
        The module's input: it decides the wipers' voltage.
    away_k : float, optional
        How far the board now is from the calibration's temperature, where it is known; without it
        and without a short sweep 20 K either way are allowed for. [K]
    """
    codes, out, hot = np.asarray(codes, int), np.asarray(out, bool), np.asarray(hot, int)
    state = _State.of(network, codes, out, hot, source)
    lines = _fitted(calibration, state)
    lines["readings"] = np.hypot(lines.get("readings", 0.0), _own_noise(calibration, state))
    shape = WITHIN_CHIP * np.stack([w.grown_ohm(state.net_v) for w in network.wipers], axis=1)
    lines["wiper against voltage"] = np.hypot(
        lines["wiper against voltage"], np.sqrt(((state.by_wiper * shape) ** 2).sum(axis=1))
    )
    lines.update(_drifted(calibration, state, away_k))
    ohm = network.series_ohm + state.net
    lines["potentiometer leakage"] = _leak_a(calibration) * ohm * (ohm + state.rth) / source.voc_v
    return NetworkUncertainty(lines)


@dataclass(frozen=True, eq=False)
class _State:
    """Sensitivities of each state."""

    codes: np.ndarray
    net: np.ndarray
    net_v: np.ndarray
    rth: np.ndarray
    by_wiper: np.ndarray
    """[n, w], dR/dRw; 0 where out."""
    by_hot: np.ndarray
    """[n, h]"""
    by_out: np.ndarray
    """[n, w], dR/dG of a wiper that left. [ohm^2]"""

    @classmethod
    def of(cls, network: Network, codes, out, hot, source: Thevenin) -> _State:
        ohm = network.resistance_ohm(codes, out, hot)
        line_a = net_v = np.zeros(len(ohm))
        for _ in range(3):  # the wipers' voltage depends on the ohms and these a little on it
            line_a = np.asarray(current_a(source, ohm))
            net_v = line_a * (ohm - network.series_ohm)
            ohm = network.resistance_ohm(codes, out, hot, net_v)
        net = ohm - network.series_ohm
        wipers = network.wiper_ohm(codes, out, net_v)
        bits = (hot[:, None] >> np.arange(len(network.hot))) & 1
        branches = np.array([branch.ohm for branch in network.hot])
        return cls(
            codes,
            net,
            net_v,
            source.voc_v / line_a - ohm,
            np.where(out, 0.0, (net[:, None] / wipers) ** 2),
            bits * (net[:, None] / branches) ** 2 if len(branches) else bits * 0.0,
            -np.where(out, net[:, None] ** 2, 0.0),
        )


def _fitted(calibration: Calibration, state: _State) -> dict[str, np.ndarray]:
    """What the joint fit leaves of each group of causes."""
    law = np.asarray(wiper_law(state.net_v, calibration.law_supply_v)) - 1.0
    knots = hats(state.net_v, np.concatenate([[0.0], calibration.law_knots_v]))[:, 1:]
    basis = np.concatenate([law[:, None], knots], axis=1)
    effect = np.broadcast_to(calibration.fixed_factor[0], (len(law), len(calibration.causes)))
    effect = effect + state.by_hot @ calibration.fixed_factor[1:]
    effect = effect + state.by_out @ calibration.out_factor
    for index, factor in enumerate(calibration.table_factor):
        moved = factor[state.codes[:, index]] + basis @ calibration.law_factor[index]
        effect = effect + state.by_wiper[:, [index]] * moved
    names = np.array(calibration.causes)
    return {
        name: np.sqrt((effect[:, names == name] ** 2).sum(axis=1))
        for name in dict.fromkeys(calibration.causes)
    }


def _own_noise(calibration: Calibration, state: _State) -> np.ndarray:
    total = np.zeros(len(state.net))
    for index, noise in enumerate(calibration.noise_ohm):
        total += (state.by_wiper[:, index] * noise[state.codes[:, index]]) ** 2
    return np.sqrt(total)


def _leak_a(calibration: Calibration) -> float:
    """Standard uncertainty of the current that the board feeds into the line. [A]

    The potentiometers' part grows as the leakage that the short sweep measures, and goes on growing
    while a board that was just plugged in warms up.
    """
    growth = calibration.leak_growth or LEAK_SPAN
    warmer = 1.0 + LEAK_PER_K * calibration.drift.get("warming_k", 0.0)
    return float(np.hypot(POT_LEAK_A * growth * warmer, LINE_LEAK_A))


def _drifted(calibration: Calibration, state: _State, away_k: float | None):
    """What may have changed since the calibration, or since the floor was measured again."""
    away = 1.0
    if away_k is not None and not calibration.floor_date_utc:
        # A known distance is no rectangular guess any more; contacts creep even at none.
        away = np.sqrt(3.0) * max(abs(away_k), LEAST_AWAY_K) / SPAN_K
    drift, count = calibration.drift, len(calibration.table_ohm)
    ladder = np.stack(
        [table[state.codes[:, i]] - table[0] for i, table in enumerate(calibration.table_ohm)], 1
    )
    grown = np.stack([calibration.grown_ohm(i, state.net_v) for i in range(count)], axis=1)
    zero = np.array([table[0] for table in calibration.table_ohm])
    own = np.hypot(drift["wiper_part"] * zero * away, drift["wiper_ohm"])
    swell = state.by_wiper * (1.0 + grown / zero) * own
    full = np.array([table[-1] for table in calibration.table_ohm])
    longer = np.sqrt(np.maximum(full / 1e4, 1.0)) if calibration.floor_date_utc else 1.0
    scale = state.by_wiper * ladder * drift["scale"] * away * longer

    def joined(part: np.ndarray) -> np.ndarray:
        # One temperature moves all wipers alike; what the short sweep leaves is each one's noise.
        return np.sqrt((part**2).sum(1)) if calibration.floor_date_utc else np.abs(part.sum(1))

    # Leakage doubles every 10 K; the short sweep measures it anew.
    leaks = np.abs(state.by_out @ np.asarray(calibration.out_siemens))
    grew = 0.0 if calibration.floor_date_utc else LEAK_GROWTH * away
    warmer = (state.by_wiper * ((zero + grown) * SWITCH_PER_K + ladder * LADDER_PER_K)).sum(axis=1)
    warmer = np.hypot(warmer + SERIES_PER_K, leaks * LEAK_PER_K)
    return {
        "leakage since": leaks * grew,
        "wiper switch since": joined(swell),
        "ladder since": joined(scale),
        "series part since": np.full(len(state.net), drift["series_ohm"] * away),
        "warming up since": drift.get("warming_k", 0.0) * warmer,
        "references since": drift["reference"] * (state.net + calibration.series_ohm),
    }


def closed_loop(
    set_ohm: float,
    u_set_ohm: float,
    source: Thevenin,
    node_v: float,
    u_node_v: float,
    stage: int = 0,
) -> Mean:
    """Best value of the stand-in's ohms from calibration and node voltage together. [ohm]

    The node sees the stand-in at the module's own voltage, which no measurement at rest does; how
    much it is worth depends on how well the source is known. ``disagreement`` far above 1 means
    that one of the two is wrong.
    """
    by_node = float(resistance_from_node_ohm(source, node_v, stage))
    u_by_node = float(u_resistance_from_node_ohm(source, node_v, u_node_v, stage))
    return weighted_mean([set_ohm, by_node], [u_set_ohm, u_by_node])
