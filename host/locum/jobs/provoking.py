"""Giving the module glitches: blanks between, random order, each only once it has recovered."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import Any

from locum.jobs.live import Live

Kind = Any
"""A length in ms, or a shape that tells its own ``length_ms``."""
LONGEST_RECOVERY_S = 180.0
HELD_S = 5.0
"""How long the module must have held its state before the next. [s]"""


def give_contact(live: Live, length_ms: int, towards: str) -> None:
    """One open (towards cold) or short (towards hot) of the module's line."""
    if towards == "cold":
        live.board.open_(length_ms)
    else:
        live.board.short_(length_ms)


def held_for_s(live: Live) -> float:
    """How long the held state has stood; without a vehicle sheet nobody can tell: for ever. [s]"""
    vehicle = live.circuit.vehicle
    if vehicle is None:
        return float("inf")
    tops = {state.name for state in vehicle.states if state.top}
    states = live.findings.states
    if not states or states[-1][1] not in tops:
        return 0.0
    return (live.now_ms - states[-1][0]) / 1000


def trials(kinds: Sequence[Kind], count: int, rng: random.Random) -> list[Kind | None]:
    """Each kind ``count`` times, and as many blanks (None), shuffled."""
    row: list[Kind | None] = [kind for kind in kinds for _ in range(count)]
    row += [None] * len(row)
    rng.shuffle(row)
    return row


def provoke_for(
    live: Live, kinds: Sequence[Kind], count: int, every_s: float, seed: int,
    give: Callable[[Kind], None], stop: Callable[[], bool] = lambda: False,
    poll_s: float | None = None,
) -> tuple[int, int]:  # fmt: skip
    """Play the trials; how many glitches were given, and blanks. Ends early on ``stop`` or a trip, or
    where the module does not come back to its held state.

    ``give`` gives one kind: a length or a captured shape, both told by their ``length_ms``.
    """
    rng = random.Random(seed)
    given = blanks = 0

    def ready(x: Live) -> bool:
        return held_for_s(x) >= HELD_S

    def ended(x: Live) -> bool:
        return stop() or x.status.state in ("tripped", "rest", "ready")

    for kind in trials(kinds, count, rng):
        live.wait(every_s * rng.uniform(0.8, 1.2), ended, poll_s)
        if not ready(live):
            live.wait(LONGEST_RECOVERY_S, lambda x: ready(x) or ended(x), poll_s)
        if ended(live) or not ready(live):
            break
        words = "0" if kind is None else str(getattr(kind, "length_ms", kind))
        live.store.add_mark(
            live.drive_id, live.now_ms, "blank" if kind is None else "injected", 0, words
        )
        if kind is None:
            blanks += 1
        else:
            give(kind)
            given += 1
    return given, blanks
