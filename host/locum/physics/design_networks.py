"""The networks that a search for parts tries: topologies filled with the parts of the data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from locum.physics.layout import parse_layout
from locum.physics.network import HotBranch, Network, Wiper
from locum.physics.pot import PotPart

RATING_SHARE = 0.95
"""Of a wiper's rated current, kept strictly."""
SERIES_OHM = 33.0
"""Protective resistor that every proposal carries; without one a supply on the line is a short."""


@dataclass(frozen=True)
class Candidate:
    """Parts put together in one way."""

    topology: str
    parts: tuple[str, ...]
    layout: str
    pots: tuple[tuple[PotPart, float], ...]
    """Part and end-to-end resistance of each wiper P1, P2, ..."""
    hot_ohm: tuple[float, ...] = ()


def candidates(
    pots: Mapping[str, PotPart], values: np.ndarray, lowest: float
) -> Iterator[Candidate]:
    """Every topology with every part; ``lowest`` is what the hot end asks for. [ohm]"""
    fixed = tuple(float(values[np.argmin(np.abs(np.log(values / x)))]) for x in _hot(lowest))
    for part in pots.values():
        for rab in part.rab_options_ohm:
            label = _label(part, rab)
            if part.channels == 1:
                yield Candidate("one wiper", (label,), "R0 + P1", ((part, rab),))
            if part.channels == 2:
                two = ((part, rab), (part, rab))
                yield Candidate("two wipers side by side", (label,), "R0 + (P1 | P2)", two)
                yield from _with_hot("two wipers side by side", (label,), two, fixed[:1])
    duals = [p for p in pots.values() if p.channels == 2 and p.can_leave and p.taps > 200]
    for part in duals:
        yield from _mixed(part, fixed)
    yield from _coarse_and_fine(pots)


def _hot(lowest: float) -> tuple[float, float]:
    """Two hot branches that share the hot end's conductance about two to one."""
    net = max(lowest - SERIES_OHM, 10.0)
    return 2.1 * net, 4.6 * net


def _mixed(part: PotPart, fixed: tuple[float, ...]) -> Iterator[Candidate]:
    options = sorted(part.rab_options_ohm)
    for low in options:
        for high in options:
            if high >= 5 * low:
                pots = ((part, low), (part, low), (part, high), (part, high))
                labels = (_label(part, low), _label(part, high))
                words = "four wipers side by side"
                yield Candidate(words, labels, "R0 + (P1 | P2 | P3 | P4)", pots)
                yield from _with_hot(words, labels, pots, fixed[:1])
                yield from _with_hot(words, labels, pots, fixed)


def _with_hot(words: str, labels, pots, fixed: tuple[float, ...]) -> Iterator[Candidate]:
    names = [f"P{i + 1}" for i in range(len(pots))] + [f"HOT{i + 1}" for i in range(len(fixed))]
    count = "one hot branch" if len(fixed) == 1 else f"{len(fixed)} hot branches"
    yield Candidate(
        f"{words}, {count}",
        (*labels, *(f"{x:g} ohm with switch" for x in fixed)),
        "R0 + (" + " | ".join(names) + ")",
        pots,
        fixed,
    )


def _coarse_and_fine(pots: Mapping[str, PotPart]) -> Iterator[Candidate]:
    single = [p for p in pots.values() if p.channels == 1 and 200 < p.taps < 300]
    for part in single:
        options = sorted(part.rab_options_ohm)
        if len(options) > 1:
            pair = ((part, options[-1]), (part, options[0]))
            labels = tuple(_label(part, rab) for _, rab in pair)
            yield Candidate("coarse and fine in series", labels, "R0 + P1 + P2", pair)


def _label(part: PotPart, rab: float) -> str:
    return f"{part.name} {rab / 1000:g} kohm"


def network_of(candidate: Candidate, rab_factor: float, worst_wiper: bool) -> Network:
    """A candidate on one board: its ladders by a factor, its wipers typical or at their worst."""
    wipers = tuple(
        Wiper(
            name=f"P{i + 1}",
            part=part.name,
            chip=1 + i // 2,
            channel=i % 2,
            table_ohm=part.table_ohm(
                rab * rab_factor, part.zero_max_ohm if worst_wiper else part.zero_ohm
            ),
            rating_a=part.rating_a,
            can_leave=part.can_leave and len(candidate.pots) > 1,
        )
        for i, (part, rab) in enumerate(candidate.pots)
    )
    rating = min(wiper.rating_a for wiper in wipers)
    usual = "+ (" in candidate.layout and all(w.can_leave for w in wipers)
    return Network(
        wipers=wipers,
        hot=tuple(HotBranch(f"HOT{i + 1}", ohm) for i, ohm in enumerate(candidate.hot_ohm)),
        series_ohm=SERIES_OHM,
        plan_wiper_a=RATING_SHARE * rating,
        layout=None if usual else parse_layout(candidate.layout),
    )
