"""The draw of an unseen swap test: how many stretches, in which order, with which glitches given.

Everything is drawn from one seed before the start, so that one fingerprint seals it: the order of the
stretches and the moments at which glitches like the recorded ones are given while following. Those
given make the test stronger (a kick-out then has a known cause) and keep it unseen: without them a
stretch in which nothing ever happens would tell that it follows.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

import numpy as np

from locum.errors import Misuse, Remark
from locum.jobs.cases import open_casebook
from locum.jobs.evidence import case_evidence
from locum.verdict import swap

MINUTES = 10.0
BOUNDARY_S = 45.0
"""Every boundary takes so long, whatever is done in it; nothing in it counts. [s]"""
REPLAY = 2
"""Glitches given in each stretch that follows."""
USUAL_GIVEN_MS = 300
GIVEN_SPAN_MS = (50, 2000)
QUIET_EDGE_S = 45.0
"""Nothing is given so close to the ends of a stretch: the module must have answered and recovered. [s]"""
UNMEASURED_DELAY_S = 2.0
"""Look-back where the module's delay was never measured. [s]"""


@dataclass(frozen=True)
class Known:
    """What a case tells beforehand; None where it does not."""

    shortest_s: float | None = None
    """Shortest glitch that the module answers. [s]"""
    delay_s: float | None = None
    """Longest delay of its answer. [s]"""
    per_h: float | None = None
    """Glitches long enough in an exposed hour. [1/h]"""
    usual_ms: int = USUAL_GIVEN_MS
    """Median length of those. [ms]"""
    towards: str = "cold"


@dataclass(frozen=True)
class Draw:
    """A test as drawn, sealed by ``plan.seal``."""

    plan: swap.SwapPlan
    known: Known
    replay: int = 0
    settles: float | None = None
    """Chance, before the start, that it settles the matter; None where no rate is known."""

    def given_s(self, number: int) -> list[float]:
        """When glitches are given in a stretch, from its start; none where the real sensor is. [s]"""
        one = self.plan.stretches[number - 1]
        room_s = one.length_s - 2 * QUIET_EDGE_S
        if one.connected != "follow" or room_s < 0:
            return []
        source = random.Random(f"{self.plan.seed} given {number}")
        part_s = room_s / max(self.replay, 1)
        return [QUIET_EDGE_S + part_s * (n + source.random()) for n in range(self.replay)]

    @property
    def length_s(self) -> float:
        """Of the whole test, a boundary before each stretch. [s]"""
        return sum(BOUNDARY_S + one.length_s for one in self.plan.stretches)


def known_of(options: dict) -> Known:
    """What the case of these options tells."""
    if not options.get("case"):
        return Known()
    with open_casebook(options.get("casebook")) as store:
        evidence = case_evidence(store, store.case_id_from(options["case"]))
    least, delay = evidence.shortest_answered_s, evidence.module_delay_s
    lengths, cold, seconds = [], [], 0.0
    for drive in evidence.drives:
        if drive.node is None or drive.repaired or drive.kind != "listen":
            continue
        node = drive.node
        inside = np.array([any(a <= t < b for a, b in drive.exposed) for t in node.t_s], bool)
        long_enough = inside & (node.length_s >= (least or 0.0))
        lengths += node.length_s[long_enough].tolist()
        cold += node.towards_cold[long_enough].tolist()
        seconds += sum(b - a for a, b in drive.exposed)
    usual = int(np.clip(1000 * np.median(lengths), *GIVEN_SPAN_MS)) if lengths else USUAL_GIVEN_MS
    return Known(
        least, delay[1] if delay else None, 3600 * len(lengths) / seconds if lengths else None,
        usual, "hot" if cold and sum(cold) < len(cold) / 2 else "cold",
    )  # fmt: skip


def draw(
    stretches: int | None, minutes: float | None, rate: float | None, chance: float, seed: int,
    replay: int = REPLAY, known: Known | None = None,
) -> Draw:  # fmt: skip
    """The draw, planned by the rate where no number of stretches is told."""
    length = MINUTES if minutes is None else minutes
    known = known or Known()
    _check(length, chance, rate, replay)
    per_h = rate or known.per_h
    given_per_h = replay * 30 / length  # half of the time it follows
    if stretches is None:
        if per_h is None:
            raise Misuse(Remark("how_many", "swap", "--stretches, or a rate to plan them by", "neither",
                                "give --rate, glitches an hour, or a case that has recorded some"))  # fmt: skip
        hours = swap.hours_needed(per_h, chance, given_per_h=given_per_h)
        stretches = 4 * max(1, -int(-hours * 60 // (4 * length)))
    if stretches < 4 or stretches % 4:
        raise Misuse(Remark("stretches", "--stretches", "4, 8, 12 ...: each block holds real and "
                            "follow, foot normal and still", str(stretches)))  # fmt: skip
    hours = stretches * length / 60
    plan = swap.draw(hours, per_h or 1.0, seed, 60 * length)
    made = Draw(plan, known, replay)
    if per_h is None:
        return made
    given = sum(len(made.given_s(n)) for n in range(1, stretches + 1))
    return Draw(plan, known, replay, swap.settling_chance(per_h, hours, plan.alpha, given))


def _check(length: float, chance: float, rate: float | None, replay: int) -> None:
    if not 1 <= length <= 120 or not 0.05 < chance < 1 or (rate is not None and rate <= 0):
        raise Misuse(Remark("swap", "swap", "stretches of 1 to 120 min, a chance between 0.05 and 1, "
                            "a rate above zero", f"{length:g} min, {chance:g}, {rate}"))  # fmt: skip
    if not 0 <= replay <= 20:
        raise Misuse(Remark("replay", "--replay", "0 to 20 glitches in each stretch", str(replay)))
