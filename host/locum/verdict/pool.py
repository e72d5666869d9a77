"""All drives of a case together: the counts and exact numbers every step of proof draws from."""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass, field, replace

import numpy as np

from locum.verdict.answering import Answering, answering, upstream_opens
from locum.verdict.evidence import Drive, Evidence
from locum.verdict.tally import Answers, Burst, Rules, Tally, tally

NOISY_PER_H = 0.25
"""Unexplained kick-outs per hour outside exposure, foot still, above which a press is asked for."""
LONGEST_BRIEF_S, LONGEST_FOOT_S = 0.5, 0.8
"""No bad contact is taken for one whose pulses are longer in the mean; no boundary is longer."""
FEW_PULSES = 12
FEET_BRIEF = 0.02
"""Share of a driver's own pulses that may be that short."""
FOOT_S = 0.5
"""Boundary between a bad switch (about 0.15 s) and a foot (about 2 s) until pulses tell better."""


@dataclass
class Pool:
    """Counts of a case before the repair, and the same after it."""

    evidence: Evidence
    rules: Rules
    tallies: list[Tally] = field(default_factory=list)
    after: list[Tally] = field(default_factory=list)
    taps: list[str] = field(default_factory=list)

    @property
    def cold(self) -> Answering:
        return self.rules.cold

    def hours(self, masked: bool | None = None, still: bool | None = None) -> float:
        return sum(t.hours_in(masked, still) for t in self.tallies)

    def bursts(self, masked: bool | None = None, still: bool | None = None) -> list[Burst]:
        return [b for t in self.tallies for b in t.select(masked, still)]

    def answers(self, name: str, taps: tuple[str, ...] = ("sensor", "module")) -> Answers:
        """Sum of ``real``, ``under_mask`` or ``line`` over drives with such a tap."""
        total = Answers()
        for item, tap in zip(self.tallies, self.taps, strict=True):
            if tap in taps or tap == "none":
                part: Answers = getattr(item, name)
                total.followed += part.followed
                total.total += part.total
        return total

    def total(self, name: str, foot: str | None = None) -> int:
        """Sum of a count; of a count by foot one foot's."""
        values = [getattr(item, name) for item in self.tallies]
        if foot is not None:
            return sum(value[foot] for value in values)
        return sum(sum(v.values()) if isinstance(v, dict) else v for v in values)

    def at(self, *taps: str) -> list[Tally]:
        """Drives with the board cut in there."""
        return [t for t, tap in zip(self.tallies, self.taps, strict=True) if tap in taps]

    def outside(self, foot: str | None = None) -> tuple[int, float]:
        """Kick-outs outside exposed time, and its hours, by foot."""
        feet = ("normal", "still") if foot is None else (foot,)
        seen = sum(t.outside.get(f, 0) for t in self.tallies for f in feet)
        return seen, sum(t.outside_by_foot_h.get(f, 0.0) for t in self.tallies for f in feet)

    def since_tap(self) -> tuple[list[Tally], list[Tally]]:
        """Drives before anything was unplugged, and drives since."""
        before = [t for t, tap in zip(self.tallies, self.taps, strict=True) if tap == "none"]
        since = [t for t, tap in zip(self.tallies, self.taps, strict=True) if tap != "none"]
        return before, since


def foot_boundary_s(evidence: Evidence) -> tuple[float, bool]:
    """Where short brake pulses end and feet begin, and whether two kinds stand apart. [s]

    Two means on the logarithm of all pulses; they stand apart if the means differ by more of their
    common spread than one log-normal kind cut in two does (``_one_kind``) and both hold three
    pulses or more. Otherwise the usual boundary; a driver whose pulses are hardly ever that short is
    told apart by it as well. Before twelve pulses only a throttle line can vouch for the boundary: a
    foot on the brake has left the throttle.
    """
    pulses = [
        d.brake_length_s for d in evidence.drives if d.brake_length_s is not None and not d.repaired
    ]
    lengths = np.log(np.concatenate(pulses)) if pulses else np.empty(0)
    if len(lengths) < FEW_PULSES:
        return FOOT_S, evidence.known.has("throttle")
    lengths = np.sort(lengths)
    n = np.arange(1, len(lengths))
    sums, squares = np.cumsum(lengths), np.cumsum(lengths**2)
    low = sums[:-1] / n
    high = (sums[-1] - sums[:-1]) / (len(lengths) - n)
    within = squares[-1] - n * low**2 - (len(lengths) - n) * high**2
    at = int(np.argmin(within))
    spread = math.sqrt(max(within[at] / len(lengths), 1e-6))
    apart = (high[at] - low[at]) / spread
    few, many = at + 1, len(lengths) - at - 1
    needed = _one_kind(len(lengths))
    if apart < needed or min(few, many) < 3 or math.exp(low[at]) > LONGEST_BRIEF_S:
        brief = int(np.count_nonzero(lengths < math.log(FOOT_S)))
        return FOOT_S, apart >= needed or brief <= 1 + FEET_BRIEF * len(lengths)
    boundary = 0.5 * (float(lengths[at]) + float(lengths[at + 1]))
    return min(max(math.exp(boundary), 0.2), LONGEST_FOOT_S), True


def _one_kind(pulses: int) -> float:
    """How far apart, in spreads, the halves of one log-normal kind lie in one case of a hundred.

    By simulation, 4,000 draws each: 5.9 of 12 pulses, 4.3 of 24, 3.6 of 50, 3.3 of 100.
    """
    return max(3.3, 2.75 + 37.0 / pulses)


def pool(evidence: Evidence) -> Pool:
    """Count every drive with what all of them say about module and driver."""
    known = evidence.known
    foot_s, _ = foot_boundary_s(evidence)
    pressed = any(d.mark_t_s is not None and len(d.mark_t_s) > 0 for d in evidence.drives)
    button = known.has("button") and pressed
    blind = not (known.has("throttle") and known.has("brake"))
    if any(d.release_cause is not None for d in evidence.drives):
        button = False
    cold, hot = answering(evidence, cold=True), answering(evidence, cold=False)
    rules = Rules(cold, hot, foot_s, button, button and blind, upstream_opens(evidence))
    result = _counted(evidence, rules)
    if button and not blind and _noisy(result):
        result = _counted(evidence, replace(rules, press_still=True))
    return result


def _noisy(counted: Pool) -> bool:
    """Even with the foot still kick-outs come where the fault cannot show."""
    seen, hours = counted.outside("still")
    return seen >= 2 and seen > NOISY_PER_H * hours


def _counted(evidence: Evidence, rules: Rules) -> Pool:
    result = Pool(evidence, rules)
    for number, drive in enumerate(evidence.drives):
        counted = _tallied(drive, number, rules)
        if drive.repaired:
            result.after.append(counted)
        else:
            result.tallies.append(counted)
            result.taps.append(drive.tap)
    return result


_COUNTED: OrderedDict[tuple, tuple[Drive, Tally]] = OrderedDict()
_KEPT = 128


def _tallied(drive: Drive, number: int, rules: Rules) -> Tally:
    """``tally``, kept: after each drive of a case the earlier ones mostly count as before.

    A drive is told by its identity; the entry holds it, so that no other can have the same.
    """
    sides = tuple((side.long_s, side.delay_s, side.measured) for side in (rules.cold, rules.hot))
    key = (id(drive), number, sides, rules.foot_s, rules.press_normal, rules.press_still,
           rules.upstream_opens)  # fmt: skip
    if key in _COUNTED:
        _COUNTED.move_to_end(key)
        return _COUNTED[key][1]
    counted = tally(drive, number, rules)
    _COUNTED[key] = (drive, counted)
    if len(_COUNTED) > _KEPT:
        _COUNTED.popitem(last=False)
    return counted
