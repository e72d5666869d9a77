"""Giving the module glitches: blanks between, random order, each only once it has recovered."""

from __future__ import annotations

import random
from collections.abc import Callable

from locum.jobs.live import Live

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


def trials(lengths_ms: list[int], count: int, rng: random.Random) -> list[int]:
    """Lengths, each ``count`` times, and as many blanks (0), shuffled."""
    row = [ms for ms in lengths_ms for _ in range(count)] + [0] * (len(lengths_ms) * count)
    rng.shuffle(row)
    return row


def provoke_for(
    live: Live, lengths_ms: list[int], count: int, every_s: float, towards: str, seed: int,
    stop: Callable[[], bool] = lambda: False, poll_s: float | None = None,
) -> int:  # fmt: skip
    """Play the trials; how many glitches were given. Ends early on ``stop`` or a trip."""
    rng = random.Random(seed)
    given = 0

    def ready(x: Live) -> bool:
        return held_for_s(x) >= HELD_S

    def ended(x: Live) -> bool:
        return stop() or x.status.state == "tripped"

    for length_ms in trials(lengths_ms, count, rng):
        live.wait(every_s * rng.uniform(0.8, 1.2), ended, poll_s)
        if not ready(live):
            live.wait(LONGEST_RECOVERY_S, lambda x: ready(x) or ended(x), poll_s)
        if ended(live) or not ready(live):
            break
        kind = "injected" if length_ms else "blank"
        live.store.add_mark(live.drive_id, live.now_ms, kind, 0, str(length_ms))
        if length_ms:
            give_contact(live, length_ms, towards)
            given += 1
    return given
