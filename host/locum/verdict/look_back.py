"""What came before a release: a foot, a short pulse, an injection, a glitch long enough, a press.

The rules that hold for all drives of a case stand here too, since they set how far back to look.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.verdict.answering import SEARCH_S, Answering
from locum.verdict.evidence import Drive, Glitches
from locum.verdict.spans import follows_within, lies_within

DRIVER_S = 1.5
"""A driver's act explains a release up to this long after it."""
PRESS_S = (-1.0, 5.0)


@dataclass(frozen=True)
class Rules:
    """What holds for all drives of a case."""

    cold: Answering
    hot: Answering
    foot_s: float = 0.5
    """A brake pulse at least so long is a foot. [s]"""
    press_normal: bool = False
    """In normal driving only kick-outs that were felt count: with a button, a share of the
    driver's own acts that no channel shows would otherwise pass for the fault."""
    press_still: bool = False
    """The same with the foot still, where a channel of the driver's acts is missing."""
    upstream_opens: bool = False
    """At the sensor's end the line falls to zero when the harness opens, and the module sees the
    open: so is a fall taken there if at the module's end the circuit only ever opened."""

    @property
    def injected_reach_s(self) -> float:
        """How long after an injection a release may be its answer; long until that is measured."""
        measured = [side.delay_s[1] for side in (self.cold, self.hot) if side.measured]
        return max([*measured, 1.0]) if measured else SEARCH_S

    def counts(self, foot: str, pressed: bool) -> bool:
        """Does a kick-out with or without a press count in such a stretch?"""
        return pressed or not (self.press_still if foot == "still" else self.press_normal)


def long_enough(glitches: Glitches, rules: Rules, tap: str) -> tuple[np.ndarray, np.ndarray]:
    """(answered by its length?, end of its look-back): for each glitch."""
    opens = glitches.towards_cold | (rules.upstream_opens and tap == "sensor")
    limit = np.where(opens, rules.cold.long_s, rules.hot.long_s)
    delay = np.where(opens, rules.cold.delay_s[1], rules.hot.delay_s[1])
    return glitches.length_s >= limit, glitches.t_s + glitches.length_s + delay


def brake_pulse_before(drive: Drive, t_s: np.ndarray) -> np.ndarray:
    """Length of the longest brake pulse in the look-back of each time, NaN if none."""
    out = np.full(len(t_s), np.nan)
    if drive.brake_t_s is None or drive.brake_length_s is None or len(drive.brake_t_s) == 0:
        return out
    on, length = drive.brake_t_s, drive.brake_length_s
    last = np.searchsorted(on, t_s, "right") - 1
    for step in range(3):
        at = last - step
        fine = at >= 0
        index = np.maximum(at, 0)
        fine &= on[index] + length[index] >= t_s - DRIVER_S
        out = np.where(fine, np.fmax(out, length[index]), out)
    return out


def explained(drive: Drive, release, pulse, rules: Rules) -> tuple[np.ndarray, np.ndarray]:
    """(the driver's own, ours) for each release."""
    ends_s = drive.injected_t_s + drive.injected_length_s + rules.injected_reach_s
    ours = lies_within(drive.injected_t_s, ends_s, release)
    foot = pulse >= rules.foot_s
    throttle = follows_within(drive.throttle_t_s, release, DRIVER_S)
    # a pulse too short for a foot is a switch's, unless the throttle moved as well; but one that only
    # fails while slowing would hide behind the throttle: what was felt counts, whatever that did
    switch = (pulse < rules.foot_s) & (~throttle | felt_at(drive, release))
    if drive.release_cause is not None:
        causes = np.array(drive.release_cause)
        own = np.isin(causes, ("driver", "road")) & ~switch
        return (own | foot | (causes == "unknown")) & ~ours, ours | (causes == "ours")
    return (foot | (throttle & ~switch)) & ~ours, ours


def felt_at(drive: Drive, release: np.ndarray) -> np.ndarray:
    if drive.mark_t_s is None or len(drive.mark_t_s) == 0:
        return np.zeros(len(release), bool)
    first = np.searchsorted(drive.mark_t_s, release + PRESS_S[0])
    after = np.minimum(first, len(drive.mark_t_s) - 1)
    return (first < len(drive.mark_t_s)) & (drive.mark_t_s[after] <= release + PRESS_S[1])


def look_backs(drive: Drive, rules: Rules) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Look-backs as spans: of long enough glitches, of all, of short brake pulses, of shifts."""
    none = np.empty(0), np.empty(0)
    windows = {"long": none, "any": none, "brake": none, "offset": none}
    if drive.node is not None and len(drive.node):
        enough, ends = long_enough(drive.node, rules, drive.tap)
        windows["long"] = drive.node.t_s[enough], ends[enough]
        windows["any"] = drive.node.t_s, ends
    if drive.brake_t_s is not None and drive.brake_length_s is not None and len(drive.brake_t_s):
        brief = drive.brake_length_s < rules.foot_s
        starts = drive.brake_t_s[brief]
        windows["brake"] = starts, starts + drive.brake_length_s[brief] + DRIVER_S
    if drive.offset_t_s is not None and drive.offset_length_s is not None and len(drive.offset_t_s):
        reach = max(rules.cold.delay_s[1], 2.0)
        windows["offset"] = drive.offset_t_s, drive.offset_t_s + drive.offset_length_s + reach
    return windows


def is_injecting(drive: Drive, t_s: float, rules: Rules) -> bool:
    reach = rules.injected_reach_s
    at = int(np.searchsorted(drive.injected_t_s, t_s + reach, "right")) - 1
    if at < 0:
        return False
    return t_s <= drive.injected_t_s[at] + drive.injected_length_s[at] + reach
