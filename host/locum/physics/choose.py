"""Which codes make which ohms: least error, kept currents, least excursion on the way.

:mod:`candidates` offers a few good states for every target, :mod:`path` finds the cheapest way
through them (errors and excursions weighed in kelvin), :mod:`excursion` settles the order of the
writes of every move. The cost is linear in the number of steps.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from locum.errors import Misuse, Remark
from locum.physics.candidates import OVERLAP_CURRENT, Bank, Candidates, Targets, candidates
from locum.physics.circuit import Thevenin, current_a
from locum.physics.excursion import best_orders
from locum.physics.network import Network
from locum.physics.path import cheapest, edge_cost, node_cost
from locum.physics.states import StateTable, every_state, low_states

POOR_K = 0.01
"""A target whose best candidate errs by more gets a wider search."""
MISSED_K = 1.0
"""A target that even the best state misses by more is refused."""
RATING_SHARE = 0.98
"""Of its rating a wiper may carry this where the plan's own limit leaves no way."""
LOW_OHM = 250.0
"""Below this the lowest codes are searched one by one where a good value is missing. [ohm]"""
TYPICAL_ALPHA = ((60.0, 0.0165), (300.0, 0.0222), (2000.0, 0.0315), (20000.0, 0.045), (1e5, 0.055))
"""|d ln R / dT| of an 8 kohm-at-20-degC NTC at its resistance, the flattest of the usual ones, so
that excursions are rather over- than underrated. [ohm, 1/K]"""


@dataclass(frozen=True, eq=False)
class Choice:
    """Codes of a whole plan, one row per step. ``n`` steps, ``w`` wipers."""

    target_ohm: np.ndarray
    """float [n], what was asked for. [ohm]"""
    set_ohm: np.ndarray
    """float [n], what the codes give by the network's tables. [ohm]"""
    codes: np.ndarray
    """int16 [n, w]; a wiper that is out has its last code."""
    out: np.ndarray
    """bool [n, w], True: the wiper's terminal is disconnected."""
    hot: np.ndarray
    """uint8 [n], bits of the hot branches."""
    rank: np.ndarray
    """uint8 [n, w], order of the writes INTO this step: all wipers of rank 0 and 1 are written in
    rank order (equal ranks in wiper order), then the hot bits change, then ranks 2 and 3."""
    wiper_a: np.ndarray
    """float [n, w], current of each wiper at the measured source. [A]"""
    excursion_ohm: np.ndarray
    """float [n], of the values passed through on the way into the step the one that lies farthest
    (in ln R) outside the two ends; equal to ``set_ohm`` where none does. [ohm]"""
    refusals: list[Remark] = field(default_factory=list)
    """Limits that bind; steps they concern hold the nearest value that is allowed."""
    warnings: list[Remark] = field(default_factory=list)

    @property
    def excursion_ln(self) -> np.ndarray:
        """float [n], how far the excursion lies outside its move's two ends, in ln R."""
        ends = np.log(np.stack([np.append(self.set_ohm[:1], self.set_ohm[:-1]), self.set_ohm]))
        worst = np.log(self.excursion_ohm)
        return np.maximum(np.maximum(worst - ends.max(axis=0), ends.min(axis=0) - worst), 0.0)


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
    target = np.atleast_1d(np.asarray(target_ohm, float))
    if target.ndim != 1 or not len(target) or not np.all(np.isfinite(target) & (target > 0)):
        raise Misuse("choose_codes wants a row of resistances above zero ohm")
    refusals = _source_refusals(network, source)
    wanted, reach_refusals = _within_reach(network, target)
    refusals += reach_refusals
    table = None if network.side_by_side else every_state(network)
    wanted = np.maximum(wanted, _least_by_current(network, source, max_wiper_a, table))
    alpha = _alpha(wanted, alpha_per_k)
    found = _candidates(network, wanted, source, max_wiper_a, alpha, table)
    if start is not None:
        found, alpha = _with_start(network, found, alpha, start, source)
    node = node_cost(found, alpha, _steps_ohm(wanted, start))
    total = found.siemens.sum(axis=2)[:, 0] + network.hot_siemens[found.hot[:, 0]]
    with np.errstate(divide="ignore"):
        ohm = network.series_ohm + 1.0 / total
    scale = 1.0 / (total * total * ohm * alpha)
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


def excursion_c(choice: Choice, curve) -> np.ndarray:
    """How far each move leaves the span between its two ends. float [n] [K]

    ``curve`` is any of :mod:`locum.physics.curve`. Where the intermediate value lies outside the
    curve's domain the slope at the end is used instead.
    """
    outside = choice.excursion_ln
    result = np.zeros(len(outside))
    rows = np.flatnonzero(outside > 0)
    if len(rows):
        worst = choice.excursion_ohm[rows]
        near = worst * np.exp(np.where(worst > choice.set_ohm[rows], -1, 1) * outside[rows])
        result[rows] = np.abs(curve.temperature_c(worst) - curve.temperature_c(near))
    return result


def _alpha(ohm: np.ndarray, alpha_per_k) -> np.ndarray:
    if alpha_per_k is None:
        known = np.array(TYPICAL_ALPHA)
        return np.interp(np.log(ohm), np.log(known[:, 0]), known[:, 1])
    return np.broadcast_to(np.abs(np.asarray(alpha_per_k, float)), ohm.shape).copy()


def _steps_ohm(wanted: np.ndarray, start: Choice | None) -> np.ndarray:
    return wanted if start is None else np.append(start.set_ohm[-1], wanted)


def _source_refusals(network: Network, source: Thevenin) -> list[Remark]:
    if source.voc_v <= network.max_voc_v:
        return []
    return [
        Remark(
            "pull_up_voltage",
            "module's input",
            f"an open-circuit voltage of at most {network.max_voc_v:.2f} V",
            f"{source.voc_v:.2f} V",
            "above it the potentiometers clamp the line: this module can be listened to only",
        )
    ]


def _within_reach(network: Network, target: np.ndarray) -> tuple[np.ndarray, list[Remark]]:
    low, high = network.reach_ohm
    refusals = []
    for limit, beyond, word in (
        (low, target < low * (1 - 1e-9), "at least"),
        (high, target > high * (1 + 1e-9), "at most"),
    ):
        if beyond.any():
            far = target[beyond].min() if word == "at least" else target[beyond].max()
            refusals.append(
                Remark(
                    "reach",
                    f"{int(beyond.sum())} of {len(target)} steps, first step {int(np.argmax(beyond))}",
                    f"{word} {limit:.4g} ohm, which this network reaches for certain",
                    f"{far:.4g} ohm",
                    "narrow the range of temperatures, or use a board that reaches further",
                )
            )
    return np.clip(target, low, high), refusals


def _actual_reach(network: Network, source: Thevenin) -> tuple[float, float]:
    """The part of the sheet's reach that this network makes with this source. [ohm]"""
    low, high = network.reach_ohm
    if not np.isfinite(high):
        high = float(max(w.table_ohm[-1] for w in network.wipers) + network.series_ohm)
    low = max(low, 1.0)
    ends = choose_codes(network, [low, high], source).set_ohm
    return max(low, float(ends[0])), min(high, float(ends[1]))


def _hard_limit_a(network: Network, max_wiper_a: float | None) -> float:
    rating = min(wiper.rating_a for wiper in network.wipers)
    return max_wiper_a or max(RATING_SHARE * rating, network.plan_wiper_a)


def _least_by_current(
    network: Network, source: Thevenin, max_wiper_a: float | None, table: StateTable | None
) -> float:
    """Lowest resistance that the wipers can carry together, hot branches helping. [ohm]"""
    low, high = max(network.reach_ohm[0], network.series_ohm + 1.0), 1e6
    ohm = np.geomspace(low, high, 2000)
    line_a, net_v = _net(network, ohm, source)
    limit_a = _hard_limit_a(network, max_wiper_a)
    if table is None:
        carried = line_a - net_v * network.hot_siemens.max()
        fits = carried <= len(network.wipers) * limit_a
    else:
        rating = min(wiper.rating_a for wiper in network.wipers)
        fits = line_a * float(table.share.min()) <= limit_a / rating
    return float(ohm[np.argmax(fits)]) if not fits[0] else 0.0


def _net(network: Network, ohm: np.ndarray, source: Thevenin) -> tuple[np.ndarray, np.ndarray]:
    """Current of the line and voltage on the wipers at each target."""
    line_a = np.asarray(current_a(source, ohm), float)
    return line_a, line_a * np.maximum(ohm - network.series_ohm, 0.0)


def _candidates(network, ohm, source, max_wiper_a, alpha, table):
    line_a, net_v = _net(network, ohm, source)
    limits = [max_wiper_a] if max_wiper_a is not None else [network.plan_wiper_a]
    rating = min(wiper.rating_a for wiper in network.wipers)
    if max_wiper_a is None and RATING_SHARE * rating > network.plan_wiper_a:
        limits.append(RATING_SHARE * rating)
    if table is not None:
        return _exhaustive(network, table, ohm, line_a, limits)
    bank = Bank(network)
    grown = np.stack([np.broadcast_to(w.grown_ohm(net_v), ohm.shape) for w in network.wipers], 1)
    net = np.maximum(ohm - network.series_ohm, 1e-3)
    targets = Targets(ohm, 1.0 / net, grown, limits[0] / np.maximum(net_v, 1e-6))
    strict = max_wiper_a is not None
    found = candidates(bank, targets, strict)
    low = None
    for limit in limits:
        cap = limit / np.maximum(net_v, 1e-6)
        best = np.abs(found.error_ln).min(axis=1) / alpha
        # Only where the limit binds or the steps of every wiper are coarse can more be found.
        binding = (targets.siemens > cap) | (ohm < LOW_OHM)
        poor = np.flatnonzero((best > POOR_K) & binding)
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
    rating = min(wiper.rating_a for wiper in network.wipers)
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


def _with_start(network, found, alpha, start: Choice, source):
    """The last row of another choice as a first step that cannot be chosen otherwise."""
    row = Candidates.empty(1, found.hot.shape[1], len(network.wipers))
    row.codes[0, 0], row.out[0, 0], row.hot[0, 0] = start.codes[-1], start.out[-1], start.hot[-1]
    _, net_v = _net(network, start.set_ohm[-1:], source)
    row.siemens[0, 0] = 1.0 / network.wiper_ohm(start.codes[-1:], start.out[-1:], net_v)[0]
    row.error_ln[0, 0] = 0.0
    joined = Candidates(
        *(
            np.concatenate([getattr(row, name), getattr(found, name)])
            for name in ("codes", "out", "hot", "siemens", "error_ln", "lower_hot")
        )
    )
    return joined, np.append(alpha[:1], alpha)


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
    _, net_v = _net(network, wanted, source)
    line_a = np.asarray(current_a(source, set_ohm), float)
    wiper_a = network.wiper_a(codes, out, hot, line_a, net_v)
    warnings: list[Remark] = []
    asked = np.clip(target, *network.reach_ohm)
    _judge_errors(network, target, asked, set_ohm, alpha, max_wiper_a, wiper_a, refusals)
    _judge_currents(network, wiper_a, max_wiper_a, warnings)
    return Choice(
        target, set_ohm, codes, out, hot, rank, wiper_a, np.exp(worst_ln), refusals, warnings
    )


def _judge_errors(network, target, wanted, set_ohm, alpha, max_wiper_a, wiper_a, refusals) -> None:
    with np.errstate(invalid="ignore", divide="ignore"):
        miss = np.abs(np.log(set_ohm / wanted)) / alpha
    missed = np.flatnonzero(~(miss <= MISSED_K))
    if not len(missed):
        return
    worst = missed[int(np.argmax(np.nan_to_num(miss[missed], posinf=1e9)))]
    limit = 1e3 * _hard_limit_a(network, max_wiper_a)
    low = set_ohm[worst] > wanted[worst]
    refusals.append(
        Remark(
            "branch_current" if low else "reach",
            f"{len(missed)} of {len(target)} steps, first step {int(missed[0])}",
            f"{wanted[worst]:.4g} ohm with no wiper over {limit:.2f} mA",
            f"{set_ohm[worst]:.4g} ohm is the nearest; its busiest wiper carries "
            f"{1e3 * wiper_a[worst].max():.2f} mA",
            "a lower temperature, a board with more hot branches, or a higher pull-up"
            if low
            else "a higher temperature, or a board that reaches further",
        )
    )


def _judge_currents(network, wiper_a, max_wiper_a, warnings) -> None:
    limit = network.plan_wiper_a if max_wiper_a is None else max_wiper_a
    over = np.flatnonzero(wiper_a.max(axis=1) > limit * (OVERLAP_CURRENT + 0.005))
    if len(over):
        warnings.append(
            Remark(
                "branch_current_above_plan",
                f"{len(over)} of {len(wiper_a)} steps, first step {int(over[0])}",
                f"at most {1e3 * limit:.2f} mA in a wiper",
                f"{1e3 * wiper_a.max():.2f} mA, rated {1e3 * network.wipers[0].rating_a:.2f} mA",
                "the end of the range leaves no other way; a cooler plan stays below",
            )
        )
