"""The unseen swap test: follow and real sensor, foot still and normal, in random stretches.

Drawn before the start, revealed after. At every boundary the board clicks whether or not anything
swaps; screen and LED tell nothing; a trip unblinds its stretch. The test that uneven rates cannot
hurt asks, of glitches long enough: did a kick-out follow, unmasked against masked?
"""

from __future__ import annotations

import hashlib
import json
import random
from dataclasses import asdict, dataclass

from locum.errors import Misuse, Remark
from locum.verdict import exact, tails


@dataclass(frozen=True)
class SwapStretch:
    """One stretch of the draw."""

    length_s: float
    connected: str
    foot: str


@dataclass(frozen=True)
class SwapPlan:
    """A draw made before the start."""

    seed: int
    stretches: tuple[SwapStretch, ...]
    chance: float
    """Chance that it settles the matter at the stated rate."""
    rate_per_h: float
    alpha: float

    @property
    def seal(self) -> str:
        """Fingerprint to write down before the start: the draw cannot be changed unseen."""
        drawn = json.dumps([self.seed, [asdict(s) for s in self.stretches]])
        return hashlib.sha256(drawn.encode()).hexdigest()[:16]


def settling_chance(
    glitches_per_h: float, hours: float, alpha: float = 0.005, given: int = 0
) -> float:
    """Chance that Fisher's test settles it, half of the time masked, each glitch deciding.

    Numbers of long enough glitches in the two halves are Poisson; unmasked ones are followed,
    masked ones are not. ``given`` are put into the module besides, and each is followed; they alone
    settle nothing, for the fault itself must be seen at least once.
    """
    mean = 0.5 * glitches_per_h * hours
    top = int(mean + 6 * mean**0.5 + 8)
    weights = [
        tails.poisson_at_most(k, mean) - tails.poisson_at_most(k - 1, mean) for k in range(top)
    ]
    chance = 0.0
    for x in range(1, top):
        for y in range(1, top):
            seen = x + given
            if exact.fisher(seen, seen, 0, y).p_value <= alpha:
                chance += weights[x] * weights[y]
    return min(1.0, chance)


def hours_needed(
    glitches_per_h: float, chance: float = 0.9, alpha: float = 0.005, given_per_h: float = 0.0
) -> float:
    """Exposed hours for that chance; in steps of the mean interval. [h]"""
    if glitches_per_h <= 0:
        raise Misuse(Remark("rate", "swap", "a rate above zero", str(glitches_per_h)))
    events = 4.0
    while events < 400:
        given = int(given_per_h * events / glitches_per_h)
        if settling_chance(1.0, events, alpha, given) >= chance:
            break
        events += 1.0
    return events / glitches_per_h


def draw(
    hours: float,
    glitches_per_h: float,
    seed: int,
    stretch_s: float = 600.0,
    alpha: float = 0.005,
) -> SwapPlan:
    """Stretches in random order, each block of four holding every combination once.

    The seed is kept with the drive; the same seed gives the same draw.
    """
    if hours * 3600.0 < 4 * 60.0:
        raise Misuse(Remark("hours", "swap", "four stretches of a minute or more", f"{hours:g} h"))
    blocks = max(1, round(hours * 3600.0 / (4 * stretch_s)))
    length = hours * 3600.0 / (4 * blocks)
    source = random.Random(seed)
    stretches: list[SwapStretch] = []
    for _ in range(blocks):
        block = [
            SwapStretch(length, connected, foot)
            for connected in ("real", "follow")
            for foot in ("normal", "still")
        ]
        source.shuffle(block)
        stretches.extend(block)
    chance = settling_chance(glitches_per_h, hours, alpha)
    return SwapPlan(seed, tuple(stretches), chance, glitches_per_h, alpha)
