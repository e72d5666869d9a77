"""What a network cannot reach or carry with a source, and the refusals that say so."""

from __future__ import annotations

import numpy as np

from locum.errors import Remark
from locum.physics.candidates import OVERLAP_CURRENT
from locum.physics.circuit import Thevenin, current_a
from locum.physics.figures import plain
from locum.physics.network import Network
from locum.physics.states import StateTable

MISSED_K = 1.0
"""A target that even the best state misses by more is refused."""
RATING_SHARE = 0.98
"""Of its rating a wiper may carry this where the plan's own limit leaves no way."""


def source_refusals(network: Network, source: Thevenin) -> list[Remark]:
    """The refusal of a pull-up voltage above what the network's parts can bear, or nothing."""
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


def within_reach(network: Network, target: np.ndarray) -> tuple[np.ndarray, list[Remark]]:
    """Targets clipped to the sheet's reach [ohm], and a refusal for each end that was passed."""
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
                    f"{word} {plain(limit)} ohm, which this network is sure to reach",
                    f"{plain(far, 4)} ohm",
                    "narrow the range of temperatures, or use a board that reaches further",
                )
            )
    return np.clip(target, low, high), refusals


def hard_limit_a(network: Network, max_wiper_a: float | None) -> float:
    """The current that no wiper may pass: as asked, else nearly its rating. [A]"""
    rating = min(wiper.rating_a for wiper in network.wipers)
    return max_wiper_a or max(RATING_SHARE * rating, network.plan_wiper_a)


def least_by_current(
    network: Network, source: Thevenin, max_wiper_a: float | None, table: StateTable | None
) -> float:
    """Lowest resistance that the wipers can carry together, hot branches helping. [ohm]"""
    low, high = max(network.reach_ohm[0], network.series_ohm + 1.0), 1e6
    ohm = np.geomspace(low, high, 2000)
    line_a, net_v = net_of(network, ohm, source)
    limit_a = hard_limit_a(network, max_wiper_a)
    if table is None:
        carried = line_a - net_v * network.hot_siemens.max()
        fits = carried <= len(network.wipers) * limit_a
    else:
        rating = min(wiper.rating_a for wiper in network.wipers)
        fits = line_a * float(table.share.min()) <= limit_a / rating
    return float(ohm[np.argmax(fits)]) if not fits[0] else 0.0


def net_of(network: Network, ohm: np.ndarray, source: Thevenin) -> tuple[np.ndarray, np.ndarray]:
    """Current of the line [A] and voltage on the wipers [V] at each target ``ohm`` [n]."""
    line_a = np.asarray(current_a(source, ohm), float)
    return line_a, line_a * np.maximum(ohm - network.series_ohm, 0.0)


def judge_errors(network, target, wanted, set_ohm, alpha, max_wiper_a, wiper_a, refusals) -> None:
    """Add a refusal if some steps miss what was wanted by over ``MISSED_K``, naming what binds.

    ``target``, ``wanted`` (clipped to the reach), ``set_ohm`` float [n] [ohm]; ``alpha`` float [n]
    [1/K]; ``wiper_a`` float [n, w] [A].
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        miss = np.abs(np.log(set_ohm / wanted)) / alpha
    missed = np.flatnonzero(~(miss <= MISSED_K))
    if not len(missed):
        return
    worst = missed[int(np.argmax(np.nan_to_num(miss[missed], posinf=1e9)))]
    limit = 1e3 * hard_limit_a(network, max_wiper_a)
    low = set_ohm[worst] > wanted[worst]
    refusals.append(
        Remark(
            "branch_current" if low else "reach",
            f"{len(missed)} of {len(target)} steps, first step {int(missed[0])}",
            f"{plain(wanted[worst], 4)} ohm with no wiper over {limit:.2f} mA",
            f"{plain(set_ohm[worst], 4)} ohm is the nearest; its busiest wiper carries "
            f"{1e3 * wiper_a[worst].max():.2f} mA",
            "a lower temperature, a board with more hot branches, or a higher pull-up"
            if low
            else "a higher temperature, or a board that reaches further",
        )
    )


def judge_currents(network, wiper_a, max_wiper_a, warnings) -> None:
    """Add a warning if some steps load a wiper above the plan's own limit. ``wiper_a`` [n, w] [A]"""
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
