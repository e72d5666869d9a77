"""Which parts, put together how, reach a wanted error for a sensor: proposals, ranked.

Every topology is tried with every part of the shipped data as a network of its own, on a nominal
board and on the two worst ones (ladder short and wiper typical; ladder long and wiper at its
worst), over the whole range of temperatures. The worst step of the three decides, and what limits
it is named. Parts are worse than their tables by what a calibration leaves; that is not in here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from locum.errors import Misuse, Refused, Remark
from locum.physics.choose import choose_codes
from locum.physics.circuit import Thevenin
from locum.physics.design_networks import Candidate, candidates, network_of
from locum.physics.pot import PotPart

GRID = 71


@dataclass(frozen=True)
class Proposal:
    """One network and how far it errs."""

    topology: str
    """In words, such as ``two wipers side by side``."""
    parts: tuple[str, ...]
    """Parts to buy, fixed resistors with their value."""
    layout: str
    worst_error_c: float
    """Largest step error over the range, of the three boards. [K]"""
    rms_error_c: float
    worst_branch_ma: float
    limit_at_c: float
    """Temperature of the limiting step. [degC]"""
    limit: str
    """What limits it: "step", "floor", "ceiling", "current", "supply"."""
    reaches: bool
    """The wanted error is kept over the whole range."""
    from_memory: tuple[str, ...] = ()
    """Data of the part that nobody saw in a document."""


def propose(
    curve,
    from_c: float,
    to_c: float,
    source: Thevenin,
    wanted_c: float,
    pots: Mapping[str, PotPart],
    resistors_ohm: Iterable[float],
) -> list[Proposal]:
    """Proposals, best first: those that reach the wanted error with the fewest parts, then the rest
    by their error.

    Parameters
    ----------
    curve : any of :mod:`locum.physics.curve`
    from_c, to_c : float
        Range of temperatures, in either order. [degC]
    source : Thevenin
        The module's input.
    wanted_c : float
        Largest step error wanted, above zero. [K]
    pots : mapping of PotPart
        :func:`locum.sheets.parts.read_pots`.
    resistors_ohm : values
        Preferred numbers, such as ``preferred_ohm("E24")``. [ohm]

    Raises
    ------
    Misuse
        If the range is empty or the wanted error is not above zero.
    Refused
        If the module's open voltage is above what stand-ins can take.
    """
    if not (from_c != to_c and wanted_c > 0):
        raise Misuse(
            Remark(
                "design", "design", "two different temperatures and an error above zero",
                f"{from_c:g} to {to_c:g} degC and {wanted_c:g} K",
            )
        )  # fmt: skip
    if source.voc_v > 6.0:
        raise Refused(
            Remark(
                "pull_up_voltage", "module's input", "an open-circuit voltage of at most 6 V",
                f"{source.voc_v:.1f} V", "such a module can be listened to only",
            )
        )  # fmt: skip
    celsius = np.linspace(min(from_c, to_c), max(from_c, to_c), GRID)
    ohm = np.asarray(curve.resistance_ohm(celsius), float)
    values = np.sort(np.asarray(list(resistors_ohm), float))
    found = [
        _judged(candidate, curve, celsius, ohm, source, wanted_c)
        for candidate in candidates(pots, values, float(ohm.min()))
    ]
    return sorted(found, key=lambda p: (not p.reaches, len(p.parts) if p.reaches else 0,
                                        p.worst_error_c))  # fmt: skip


def _judged(candidate: Candidate, curve, celsius, ohm, source, wanted_c) -> Proposal:
    tolerance = max(part.rab_tolerance_pct for part, _ in candidate.pots) / 100
    boards = ((1.0, False), (1.0 - tolerance, False), (1.0 + tolerance, True))
    error = np.zeros((len(boards), len(celsius)))
    busiest, sets = 0.0, []
    for row, (factor, worst) in enumerate(boards):
        network = network_of(candidate, factor, worst)
        choice = choose_codes(network, ohm, source, max_wiper_a=network.plan_wiper_a)
        sets.append(choice.set_ohm)
        busiest = max(busiest, float(choice.wiper_a.max()))
        # ln R by the slope: an error far outside the curve's domain must still have a number.
        slope = np.asarray(curve.slope_ohm_per_k(celsius), float) / ohm
        error[row] = np.abs(np.log(choice.set_ohm / ohm) / slope)
    row, at = np.unravel_index(int(np.argmax(error)), error.shape)
    worst_c = float(error[row, at])
    supply = max(part.supply_v[1] for part, _ in candidate.pots)
    clamped = source.voc_v > supply
    parts = {part.name: part for part, _ in candidate.pots}.values()
    return Proposal(
        topology=candidate.topology,
        parts=candidate.parts,
        layout=candidate.layout,
        worst_error_c=worst_c,
        rms_error_c=float(np.sqrt(np.mean(error**2))),
        worst_branch_ma=1e3 * busiest,
        limit_at_c=float(celsius[at]),
        limit="supply" if clamped else _limit(candidate, sets[row], ohm, at, boards[row], source),
        reaches=bool(worst_c <= wanted_c and not clamped),
        from_memory=tuple(sorted({key for part in parts for key in part.from_memory})),
    )


def _limit(candidate, set_ohm, ohm, at, board, source) -> str:
    network = network_of(candidate, *board)
    codes = np.array([[0] * len(network.wipers), [len(w.table_ohm) - 1 for w in network.wipers]])
    floor = float(network.resistance_ohm(codes[0], False, (1 << len(network.hot)) - 1))
    if network.side_by_side:
        ceiling = max(float(w.table_ohm[-1]) for w in network.wipers) + network.series_ohm
    else:
        ceiling = float(network.resistance_ohm(codes[1], False, 0))
    if ohm[at] > ceiling:
        return "ceiling"
    if ohm[at] < floor:
        return "floor"
    # Would twice the current reach it better?
    freer = choose_codes(network, [ohm[at]], source, max_wiper_a=1.0).set_ohm[0]
    if abs(np.log(freer / ohm[at])) < 0.5 * abs(np.log(set_ohm[at] / ohm[at])):
        return "current"
    return "step"
