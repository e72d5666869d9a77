"""Stretches of a drive in random order, drawn before the start, and the glitches played into them."""

from __future__ import annotations

import random

from locum.verdict.answering import Answering, heard_sides, usual_ohm
from locum.verdict.pool import Pool

STRETCH_S = 600.0
GRID_S = (0.03, 0.06, 0.1, 0.15, 0.22, 0.32, 0.45, 0.65, 1.0, 2.0)
SPACING_S = 45.0


def warm_up_s(pool: Pool, hours: float) -> float:
    return min(pool.evidence.known.after_min * 60.0, hours * 3600.0)


def laid_out(
    warm_s: float, hours: float, arms: list[tuple[str, str]], draw: random.Random
) -> tuple[tuple[float, str, str], ...]:
    """Warm-up with the real sensor (it shows what channels miss), then pairs of stretches, each pair in random order."""
    left = hours * 3600.0 - warm_s
    laid = []
    if warm_s > 0:
        laid = [(0.5 * warm_s, "real", foot) for foot in ("still", "normal")]
    pairs = max(1, round(left / (len(arms) * STRETCH_S)))
    length = left / (pairs * len(arms))
    for _ in range(pairs):
        order = list(arms)
        draw.shuffle(order)
        laid.extend((length, *arm) for arm in order)
    return tuple(laid)


def played_in(
    pool: Pool, laid: tuple[tuple[float, str, str], ...], warm_s: float, draw: random.Random
) -> tuple[tuple[float, float, float], ...]:
    """Glitches of many lengths in the stand-in's stretches, until the shortest answered is known.

    They are like the circuit's own: open or short, or what was heard in between.
    """
    cold, hot = heard_sides(pool.evidence)
    sides = [pool.cold] if cold or not hot else []
    sides += [pool.rules.hot] if hot else []
    wanted: list[tuple[float, float]] = []
    for side in sides:
        ohm = usual_ohm(pool.evidence, side is pool.cold)
        wanted += [(length, ohm) for length in _lengths(side)]
    draw.shuffle(wanted)
    times = []
    at = 0.0
    for length, connected, _ in laid:
        if connected != "real" and at >= warm_s:
            count = int((length - 60.0) // SPACING_S)
            times += [at + 30.0 + SPACING_S * i for i in range(max(count, 0))]
        at += length
    return tuple((t, *what) for t, what in zip(times, wanted, strict=False))


def _lengths(side: Answering) -> list[float]:
    """Lengths that tell most about the shortest one answered; none once it is known."""
    if side.measured and (
        side.injected >= 40
        or (side.injected >= 12 and side.long_s <= 1.3 * max(side.short_s, 1e-3))
    ):
        return []
    if not side.measured:
        return [] if side.injected >= 40 else list(GRID_S)
    low, high = max(side.short_s, 0.02) / 1.15, side.long_s * 1.15
    return [low * (high / low) ** (i / 9) for i in range(10)]
