"""Where the good states of each target come from: shared out, or searched in a table of all.

A side-by-side network shares targets out (:mod:`candidates`); its lowest codes, and any other layout, are
searched in a sorted table of states (:mod:`states`).
"""

from __future__ import annotations

import numpy as np

from locum.physics.bank import Bank, Targets
from locum.physics.candidates import Candidates, candidates
from locum.physics.choice import Choice
from locum.physics.circuit import Thevenin
from locum.physics.network import Network
from locum.physics.reach import RATING_SHARE, net_of
from locum.physics.states import StateTable, low_states

POOR_K = 0.01
"""A target whose best candidate errs by more gets a wider search."""
LOW_OHM = 250.0
"""Below this the lowest codes are searched one by one where a good value is missing. [ohm]"""


def candidates_of(
    network: Network,
    ohm: np.ndarray,
    source: Thevenin,
    max_wiper_a: float | None,
    alpha: np.ndarray,
    table: StateTable | None,
) -> Candidates:
    """A few good states for every target.

    Parameters
    ----------
    network : Network
    ohm : float array [n]
        Targets within the network's reach. [ohm]
    source : Thevenin
    max_wiper_a : float or None
        Limit of one wiper's current; None: the plan's own, and nearly the rating where that leaves
        no way. [A]
    alpha : float array [n]
        |d ln R / dT| at the targets. [1/K]
    table : StateTable or None
        Every state of a network that is not side by side; None for the usual one.
    """
    line_a, net_v = net_of(network, ohm, source)
    limits = _current_limits(network, max_wiper_a)
    if table is not None:
        return _exhaustive(network, table, ohm, line_a, limits)
    bank = Bank(network)
    grown = np.stack([np.broadcast_to(w.grown_ohm(net_v), ohm.shape) for w in network.wipers], 1)
    net = np.maximum(ohm - network.series_ohm, 1e-3)
    targets = Targets(ohm, 1.0 / net, grown, limits[0] / np.maximum(net_v, 1e-6))
    strict = max_wiper_a is not None
    found = candidates(bank, targets, strict)
    rating = _lowest_rating_a(network)
    low = None
    for limit in limits:
        cap = limit / np.maximum(net_v, 1e-6)
        poor = _poor(found, targets, cap, alpha)
        if not len(poor):
            break
        here = Targets(ohm[poor], targets.siemens[poor], grown[poor], cap[poor])
        if limit != limits[0]:
            _merge(found, poor, candidates(bank, here, strict), alpha)
        if low is None:
            low = low_states(network, bank.coarse, (bank.medium, bank.fine))
        near = low.window(ohm[poor], line_a[poor], limit / rating, 64, 6)
        _merge(found, poor, _from_table(network, low, near, here), alpha)
    return found


def _current_limits(network: Network, max_wiper_a: float | None) -> list[float]:
    """Limits of one wiper's current, to be tried one after the other. [A]"""
    if max_wiper_a is not None:
        return [max_wiper_a]
    nearly_rating = RATING_SHARE * _lowest_rating_a(network)
    plan = network.plan_wiper_a
    return [plan, nearly_rating] if nearly_rating > plan else [plan]


def _lowest_rating_a(network: Network) -> float:
    return min(wiper.rating_a for wiper in network.wipers)


def _poor(found: Candidates, targets: Targets, cap: np.ndarray, alpha: np.ndarray) -> np.ndarray:
    """Rows whose best candidate errs by too much and for which more can be found: only where the
    limit binds or the steps of every wiper are coarse."""
    best = np.abs(found.error_ln).min(axis=1) / alpha
    binding = (targets.siemens > cap) | (targets.ohm < LOW_OHM)
    return np.flatnonzero((best > POOR_K) & binding)


def _merge(found: Candidates, rows: np.ndarray, more: Candidates, alpha: np.ndarray) -> None:
    """Keep of each row the cheapest of both."""
    k = found.hot.shape[1]
    error = np.concatenate([found.error_ln[rows], more.error_ln], axis=1)
    lower = np.concatenate([found.lower_hot[rows], more.lower_hot], axis=1)
    order = np.argsort(np.abs(error) / alpha[rows, None] + 1e-4 * lower, axis=1)[:, :k]
    for name in ("codes", "out", "hot", "siemens", "error_ln", "lower_hot"):
        both = np.concatenate([getattr(found, name)[rows], getattr(more, name)], axis=1)
        pick = order[..., None] if both.ndim == 3 else order
        getattr(found, name)[rows] = np.take_along_axis(both, pick, axis=1)


def _from_table(network: Network, table, index: np.ndarray, here: Targets) -> Candidates:
    n, k = index.shape
    known = np.maximum(index, 0)
    found = Candidates.empty(n, k, len(network.wipers))
    found.codes[:], found.out[:] = table.codes[known], table.out[known]
    found.hot[:] = table.hot[known]
    ohm = np.stack([w.table_ohm[found.codes[..., i]] for i, w in enumerate(network.wipers)], axis=2)
    with np.errstate(divide="ignore"):
        gone = 1.0 / np.array([wiper.out_siemens for wiper in network.wipers])
    ohm = np.where(found.out, gone, ohm + here.grown_ohm[:, None, :])
    found.siemens[:] = 1.0 / ohm
    found.error_ln[:] = np.log(network.layout_ohm(ohm, found.hot) / here.ohm[:, None])
    found.error_ln[index < 0] = np.inf
    return found


def _exhaustive(network, table, ohm, line_a, limits) -> Candidates:
    rating = _lowest_rating_a(network)
    none = Targets(ohm, 1.0 / ohm, np.zeros((len(ohm), len(network.wipers))), np.zeros(len(ohm)))
    found = None
    for limit in limits:
        near = table.window(ohm, line_a, limit / rating, 64, 8)
        more = _from_table(network, table, near, none)
        if found is None:
            found = more
            continue
        rows = np.flatnonzero(np.abs(found.error_ln).min(axis=1) > 1e-3)
        if len(rows):
            near = near[rows]
            _merge(found, rows, _from_table(network, table, near, none.at(rows)), np.ones(len(ohm)))
    assert found is not None
    return found


def with_start(network, found, alpha, start: Choice, source):
    """The last row of another choice as a first step that cannot be chosen otherwise."""
    row = Candidates.empty(1, found.hot.shape[1], len(network.wipers))
    row.codes[0, 0], row.out[0, 0], row.hot[0, 0] = start.codes[-1], start.out[-1], start.hot[-1]
    _, net_v = net_of(network, start.set_ohm[-1:], source)
    row.siemens[0, 0] = 1.0 / network.wiper_ohm(start.codes[-1:], start.out[-1:], net_v)[0]
    row.error_ln[0, 0] = 0.0
    joined = Candidates(
        *(
            np.concatenate([getattr(row, name), getattr(found, name)])
            for name in ("codes", "out", "hot", "siemens", "error_ln", "lower_hot")
        )
    )
    return joined, np.append(alpha[:1], alpha)
