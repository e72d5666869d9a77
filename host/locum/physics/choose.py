"""Which codes make which ohms: least error, kept currents, least excursion on the way.

:mod:`search` offers a few good states for every target, :mod:`path` finds the cheapest way
through them (errors and excursions weighed in kelvin), :mod:`excursion` settles the order of the
writes of every move, :mod:`reach` says what cannot be. The cost is linear in the number of steps.
"""

from __future__ import annotations

import numpy as np

from locum.errors import Misuse, Remark
from locum.physics.candidates import Candidates
from locum.physics.choice import Choice, excursion_c
from locum.physics.circuit import Thevenin, current_a
from locum.physics.excursion import best_orders
from locum.physics.network import Network
from locum.physics.path import cheapest, edge_cost, node_cost
from locum.physics.reach import (
    judge_currents,
    judge_errors,
    least_by_current,
    net_of,
    source_refusals,
    within_reach,
)
from locum.physics.search import candidates_of, with_start
from locum.physics.states import every_state

__all__ = ["Choice", "choose_codes", "excursion_c", "ladder"]

TYPICAL_ALPHA = ((60.0, 0.0165), (300.0, 0.0222), (2000.0, 0.0315), (20000.0, 0.045), (1e5, 0.055))
"""|d ln R / dT| of an 8 kohm-at-20-degC NTC at its resistance, the flattest of the usual ones, so
that excursions are rather over- than underrated. [ohm, 1/K]"""


def choose_codes(
    network: Network,
    target_ohm,
    source: Thevenin,
    max_wiper_a: float | None = None,
    alpha_per_k=None,
    start: Choice | None = None,
) -> Choice:
    """Codes for every target.

    Parameters
    ----------
    network : Network
        Nominal or calibrated.
    target_ohm : float array [n]
        Above zero. Outside the network's reach it is refused and the nearest limit is held. [ohm]
    source : Thevenin
        The module's input as measured: decides the currents and the wipers' voltage.
    max_wiper_a : float, optional
        Limit of one wiper's current, kept strictly. By default ``network.plan_wiper_a`` is kept
        wherever there is a way, and 0.98 of the rating always. [A]
    alpha_per_k : float or array [n], optional
        |d ln R / dT| of the sensor: errors and excursions are weighed in kelvin. A typical NTC
        without it. [1/K]
    start : Choice, optional
        The move into step 0 begins at the last row of this choice.

    Returns
    -------
    Choice
        With the refusals in it; nothing is raised for a value that cannot be reached.

    Raises
    ------
    Misuse
        If there is no target, or one is not a positive number.
    """
    target = _targets(target_ohm)
    refusals = source_refusals(network, source)
    wanted, reach_refusals = within_reach(network, target)
    refusals += reach_refusals
    table = None if network.side_by_side else every_state(network)
    wanted = np.maximum(wanted, least_by_current(network, source, max_wiper_a, table))
    alpha = _alpha(wanted, alpha_per_k)
    found = candidates_of(network, wanted, source, max_wiper_a, alpha, table)
    if start is not None:
        found, alpha = with_start(network, found, alpha, start, source)
    node = node_cost(found, alpha, _steps_ohm(wanted, start))
    scale = _kelvin_per_siemens(network, found, alpha)
    slot = cheapest(node, edge_cost(network.hot_siemens, found, scale))
    return _chosen(
        network,
        found,
        slot,
        target,
        wanted,
        source,
        max_wiper_a,
        alpha,
        refusals,
        start is not None,
    )


def _targets(target_ohm) -> np.ndarray:
    """The targets as a row; Misuse where there is none or one is not a positive number. [ohm]"""
    target = np.atleast_1d(np.asarray(target_ohm, float))
    if target.ndim != 1 or not len(target) or not np.all(np.isfinite(target) & (target > 0)):
        found = f"an array of shape {target.shape}, least value {np.min(target, initial=np.inf):g}"
        raise Misuse(Remark("targets", "target_ohm", "a row of resistances above zero", found))
    return target


def _kelvin_per_siemens(network: Network, found: Candidates, alpha: np.ndarray) -> np.ndarray:
    """What a change of conductance costs at each step's best candidate. [K/S]"""
    total = found.siemens.sum(axis=2)[:, 0] + network.hot_siemens[found.hot[:, 0]]
    with np.errstate(divide="ignore"):
        ohm = network.series_ohm + 1.0 / total
    return 1.0 / (total * total * ohm * alpha)


def ladder(network: Network, source: Thevenin, rungs: int = 512) -> Choice:
    """At most ``rungs`` values over the whole reach, rising in ohms, small excursions between
    neighbours: the way home and values set by hand. Same spacing in ln R; a rung that would not lie
    above the one before it is left out."""
    low, high = _actual_reach(network, source)
    targets = np.geomspace(low * 1.001, high * 0.999, rungs)
    choice = choose_codes(network, targets, source)
    keep = np.flatnonzero(np.diff(np.maximum.accumulate(choice.set_ohm), prepend=0.0) > 0)
    return (
        choice if len(keep) == len(targets) else choose_codes(network, choice.set_ohm[keep], source)
    )


def _alpha(ohm: np.ndarray, alpha_per_k) -> np.ndarray:
    if alpha_per_k is None:
        known = np.array(TYPICAL_ALPHA)
        return np.interp(np.log(ohm), np.log(known[:, 0]), known[:, 1])
    return np.broadcast_to(np.abs(np.asarray(alpha_per_k, float)), ohm.shape).copy()


def _steps_ohm(wanted: np.ndarray, start: Choice | None) -> np.ndarray:
    return wanted if start is None else np.append(start.set_ohm[-1], wanted)


def _actual_reach(network: Network, source: Thevenin) -> tuple[float, float]:
    """The part of the sheet's reach that this network makes with this source. [ohm]"""
    low, high = network.reach_ohm
    if not np.isfinite(high):
        high = float(max(w.table_ohm[-1] for w in network.wipers) + network.series_ohm)
    low = max(low, 1.0)
    ends = choose_codes(network, [low, high], source).set_ohm
    return max(low, float(ends[0])), min(high, float(ends[1]))


def _chosen(
    network, found, slot, target, wanted, source, max_wiper_a, alpha, refusals, started
) -> Choice:
    row = np.arange(len(slot))
    codes, out, hot = found.codes[row, slot], found.out[row, slot], found.hot[row, slot]
    siemens = found.siemens[row, slot]
    rank, worst_ln = best_orders(network, siemens, hot)
    if started:
        codes, out, hot, siemens = codes[1:], out[1:], hot[1:], siemens[1:]
        rank, worst_ln, alpha = rank[1:], worst_ln[1:], alpha[1:]
    with np.errstate(divide="ignore"):
        set_ohm = network.layout_ohm(1.0 / siemens, hot)
    _, net_v = net_of(network, wanted, source)
    line_a = np.asarray(current_a(source, set_ohm), float)
    wiper_a = network.wiper_a(codes, out, hot, line_a, net_v)
    warnings: list[Remark] = []
    asked = np.clip(target, *network.reach_ohm)
    judge_errors(network, target, asked, set_ohm, alpha, max_wiper_a, wiper_a, refusals)
    judge_currents(network, wiper_a, max_wiper_a, warnings)
    return Choice(
        target, set_ohm, codes, out, hot, rank, wiper_a, np.exp(worst_ln), refusals, warnings
    )
