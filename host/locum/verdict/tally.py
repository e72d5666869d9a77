"""One drive counted: kick-outs by what fed the module and what came before them.

Theory of operation. Every release in exposed time gets what the channels say about it: a throttle
move or a long enough brake pulse explains it (the driver's own); an injection makes it ours;
otherwise it is a kick-out. Kick-outs closer than a minute are one burst, told by its first. Each
burst notes what came before it: a glitch on the module's line long enough to be answered, a short
brake pulse, a shift of the return wire, a press of the button. Glitches are counted the other way
round as well: long enough, the state held - did a kick-out follow?
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from locum.verdict.answering import SEARCH_S, Answering, held_again
from locum.verdict.coincidence import covered_share
from locum.verdict.evidence import Drive, Glitches, Stretch

MERGE_S = 60.0
DRIVER_S = 1.5
"""A driver's act explains a release up to this long after it."""
PRESS_S = (-1.0, 5.0)
ARMS = ("real", "masked")


@dataclass(frozen=True)
class Burst:
    """Kick-outs within a minute, told by the first."""

    t_s: float
    drive: int
    masked: bool
    hold: bool
    still: bool
    count: int
    linked: bool
    """A long enough glitch on the module's line came within the look-back."""
    near: bool
    """A glitch of any length on the module's line came within the look-back."""
    brake_s: float | None
    """Length of a brake pulse in the look-back, too short for a foot."""
    offset: bool
    pressed: bool
    link_chance: float = 0.0
    """Share of the like minutes around it that lies in look-backs of long enough glitches."""
    near_chance: float = 0.0
    """The same of all glitches, of any length."""
    brake_chance: float = 0.0
    """The same for short brake pulses."""
    offset_chance: float = 0.0
    """The same for shifts of the return wire."""


@dataclass
class Answers:
    """Long enough glitches (bursts of them), the state held: how many were followed?"""

    followed: int = 0
    total: int = 0

    def add(self, yes: bool) -> None:
        self.followed += yes
        self.total += 1


@dataclass
class Tally:
    """Counts of one drive."""

    hours: dict[tuple[str, str], float] = field(default_factory=dict)
    """Exposed, watched hours by (connected, foot). [h]"""
    bursts: list[Burst] = field(default_factory=list)
    own: int = 0
    """Releases the driver explains, in exposed time."""
    own_pressed: dict[str, int] = field(default_factory=lambda: {"normal": 0, "still": 0})
    """Presses that belong to the driver's own releases, by foot."""
    felt_only: dict[str, int] = field(default_factory=lambda: {"normal": 0, "still": 0})
    """Presses in exposed time without any release near, by foot."""
    felt_outside: int = 0
    """The same outside exposed time."""
    outside: dict[str, int] = field(default_factory=lambda: {"normal": 0, "still": 0})
    """Kick-outs (bursts) outside exposed time, where the fault cannot show: what the channels miss
    of the driver's acts."""
    outside_by_foot_h: dict[str, float] = field(
        default_factory=lambda: {"normal": 0.0, "still": 0.0}
    )
    real: Answers = field(default_factory=Answers)
    """Glitches heard on the node, the real sensor feeding."""
    real_cold: Answers = field(default_factory=Answers)
    """Those of them towards cold: cut in at the sensor's end, only what lies beyond can do that."""
    under_mask: Answers = field(default_factory=Answers)
    """Glitches of the real sensor by the ohmmeter, the stand-in feeding."""
    line: Answers = field(default_factory=Answers)
    """Glitches on the node while the stand-in fed the module."""
    heard: dict[str, int] = field(default_factory=lambda: dict.fromkeys(("real", "ohm", "line"), 0))
    """Glitches of any length, each."""
    brake_pulses: np.ndarray = field(default_factory=lambda: np.empty(0))
    """Lengths of all brake pulses in exposed time. [s]"""
    brake_at_release: np.ndarray = field(default_factory=lambda: np.empty(0))
    """Lengths of brake pulses within the look-back of a release. [s]"""
    offsets: int = 0

    @property
    def outside_h(self) -> float:
        return sum(self.outside_by_foot_h.values())

    def hours_in(self, masked: bool | None = None, still: bool | None = None) -> float:
        """Exposed hours of an arm; None: either. [h]"""
        return sum(
            hours
            for (connected, foot), hours in self.hours.items()
            if masked in (None, connected != "real") and still in (None, foot == "still")
        )

    def count(self, masked: bool | None = None, still: bool | None = None) -> int:
        return len(self.select(masked, still))

    def select(self, masked: bool | None = None, still: bool | None = None) -> list[Burst]:
        return [
            burst
            for burst in self.bursts
            if masked in (None, burst.masked) and still in (None, burst.still)
        ]


class _Clock:
    """Where a time falls: exposed or not, and in which stretch."""

    def __init__(self, drive: Drive) -> None:
        end_s = drive.hours * 3600.0
        self.stretches = drive.stretches or (Stretch(0.0, end_s),)
        self._starts = np.array([stretch.start_s for stretch in self.stretches])
        self.exposed = drive.exposed
        flat = np.array(drive.exposed, float).reshape(-1, 2)
        self._edges = flat.ravel()

    def is_exposed(self, t_s):
        return np.searchsorted(self._edges, t_s, "right") % 2 == 1

    def index(self, t_s):
        at = np.searchsorted(self._starts, t_s, "right") - 1
        return np.clip(at, 0, len(self._starts) - 1)

    def hours(self) -> tuple[dict[tuple[str, str], float], dict[str, float]]:
        """Exposed hours by (connected, foot), and hours outside by foot."""
        out: dict[tuple[str, str], float] = {}
        outside = {"normal": 0.0, "still": 0.0}
        for stretch in self.stretches:
            length = stretch.end_s - stretch.start_s
            inside = sum(
                max(0.0, min(stretch.end_s, end) - max(stretch.start_s, begin))
                for begin, end in self.exposed
            )
            outside[stretch.foot] = outside.get(stretch.foot, 0.0) + (length - inside) / 3600.0
            if stretch.watched and inside > 0:
                key = (stretch.connected, stretch.foot)
                out[key] = out.get(key, 0.0) + inside / 3600.0
        return out, outside


def _before(events: np.ndarray | None, t_s: np.ndarray, window_s) -> np.ndarray:
    """True where an event lies within the window before (or at) the time."""
    if events is None or len(events) == 0:
        return np.zeros(len(t_s), bool)
    at = np.searchsorted(events, t_s, "right") - 1
    return (at >= 0) & (t_s - events[np.maximum(at, 0)] <= window_s)


def _covered(starts, ends, t_s: np.ndarray) -> np.ndarray:
    """True where t lies in any of the spans (starts sorted)."""
    if len(starts) == 0:
        return np.zeros(len(t_s), bool)
    reach = np.maximum.accumulate(ends)
    at = np.searchsorted(starts, t_s, "right") - 1
    return (at >= 0) & (reach[np.maximum(at, 0)] >= t_s)


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


def _pulse_before(drive: Drive, t_s: np.ndarray) -> np.ndarray:
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


def tally(drive: Drive, number: int, rules: Rules) -> Tally:
    """Count one drive."""
    clock = _Clock(drive)
    result = Tally()
    result.hours, result.outside_by_foot_h = clock.hours()
    release = drive.release_t_s if drive.release_t_s is not None else np.empty(0)
    pulse = _pulse_before(drive, release)
    driver, ours = _explained(drive, release, pulse, rules)
    exposed = clock.is_exposed(release) if len(release) else np.zeros(0, bool)
    result.own = int((driver & exposed).sum())
    result.brake_at_release = pulse[exposed & ~np.isnan(pulse)]
    if drive.brake_t_s is not None and len(drive.brake_t_s) and drive.brake_length_s is not None:
        result.brake_pulses = drive.brake_length_s[clock.is_exposed(drive.brake_t_s)]
    if drive.offset_t_s is not None:
        result.offsets = (
            int(clock.is_exposed(drive.offset_t_s).sum()) if len(drive.offset_t_s) else 0
        )
    pressed = _pressed(drive, release)
    kicks = np.flatnonzero(exposed & ~driver & ~ours)
    if len(release):
        _outside(
            result,
            clock,
            release[~exposed & ~driver & ~ours],
            rules,
            pressed[~exposed & ~driver & ~ours],
        )
    _bursts(result, drive, number, rules, clock, kicks, pulse, pressed)
    _presses(result, drive, clock, release, driver)
    _glitches(result, drive, rules, clock, release, driver | ours)
    return result


def _outside(result: Tally, clock: _Clock, times: np.ndarray, rules: Rules, pressed) -> None:
    last = -1e9
    where = clock.index(times)
    for t_s, at, felt in zip(times.tolist(), where.tolist(), pressed.tolist(), strict=True):
        foot = clock.stretches[at].foot
        if t_s - last > MERGE_S and rules.counts(foot, felt):
            result.outside[foot] += 1
        last = t_s


def _explained(drive: Drive, release, pulse, rules: Rules) -> tuple[np.ndarray, np.ndarray]:
    """(the driver's own, ours) for each release."""
    ends_s = drive.injected_t_s + drive.injected_length_s + rules.injected_reach_s
    ours = _covered(drive.injected_t_s, ends_s, release)
    foot = pulse >= rules.foot_s
    if drive.release_cause is not None:
        causes = np.array(drive.release_cause)
        own = np.isin(causes, ("driver", "road")) & ~(pulse < rules.foot_s)
        return (own | foot | (causes == "unknown")) & ~ours, ours | (causes == "ours")
    # a switch that only fails while slowing would hide behind the throttle: a pulse too short for
    # a foot that was felt counts, whatever the throttle did
    switch = (pulse < rules.foot_s) & _pressed(drive, release)
    throttle = _before(drive.throttle_t_s, release, DRIVER_S) & ~switch
    return (foot | throttle) & ~ours, ours


def _pressed(drive: Drive, release: np.ndarray) -> np.ndarray:
    if drive.mark_t_s is None or len(drive.mark_t_s) == 0:
        return np.zeros(len(release), bool)
    first = np.searchsorted(drive.mark_t_s, release + PRESS_S[0])
    after = np.minimum(first, len(drive.mark_t_s) - 1)
    return (first < len(drive.mark_t_s)) & (drive.mark_t_s[after] <= release + PRESS_S[1])


def _bursts(result: Tally, drive, number, rules, clock: _Clock, kicks, pulse, pressed) -> None:
    release = drive.release_t_s
    if len(kicks) == 0:
        return
    times = release[kicks]
    begins = np.concatenate(([True], np.diff(times) > MERGE_S))
    groups = np.cumsum(begins) - 1
    any_pressed = np.bincount(groups, weights=pressed[kicks]) > 0
    sizes = np.bincount(groups)
    firsts = np.flatnonzero(begins)
    times = times[firsts]
    windows = _windows(drive, rules)
    hits = {name: _covered(*spans, times) for name, spans in windows.items()}
    end_s = drive.hours * 3600.0
    chances = {n: covered_share(times, *spans, 0.0, end_s) for n, spans in windows.items()}
    where = clock.index(times)
    for g, i in enumerate(firsts.tolist()):
        stretch = clock.stretches[int(where[g])]
        if not stretch.watched or not rules.counts(stretch.foot, bool(any_pressed[g])):
            continue
        length = float(pulse[kicks[i]])
        result.bursts.append(
            Burst(
                float(times[g]),
                number,
                stretch.connected != "real",
                stretch.connected == "hold",
                stretch.foot == "still",
                int(sizes[g]),
                bool(hits["long"][g]),
                bool(hits["any"][g]),
                None if np.isnan(length) else length,
                bool(hits["offset"][g]),
                bool(any_pressed[g]),
                float(chances["long"][g]),
                float(chances["any"][g]),
                float(chances["brake"][g]),
                float(chances["offset"][g]),
            )
        )


def _windows(drive: Drive, rules: Rules) -> dict[str, tuple[np.ndarray, np.ndarray]]:
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


def _presses(result: Tally, drive: Drive, clock: _Clock, release, driver) -> None:
    if drive.mark_t_s is None or len(drive.mark_t_s) == 0:
        return
    marks = drive.mark_t_s
    near = np.searchsorted(release, marks - PRESS_S[1])
    until = np.searchsorted(release, marks - PRESS_S[0], "right")
    exposed = clock.is_exposed(marks)
    where = clock.index(marks)
    for i in range(len(marks)):
        foot = clock.stretches[int(where[i])].foot
        if not exposed[i]:
            result.felt_outside += near[i] == until[i]
        elif near[i] == until[i]:
            result.felt_only[foot] += 1
        elif driver[near[i] : until[i]].all():
            result.own_pressed[foot] += 1


def _glitches(result: Tally, drive: Drive, rules: Rules, clock: _Clock, release, other) -> None:
    """Long enough glitches, the state held and no injection about: did a kick-out follow?"""
    held_from = held_again(drive) if drive.release_t_s is not None else np.empty(0)
    for glitches, on_node in ((drive.node, True), (drive.under_mask, False)):
        if glitches is None or len(glitches) == 0:
            continue
        exposed = clock.is_exposed(glitches.t_s)
        masked = np.array([s.connected != "real" for s in clock.stretches])[
            clock.index(glitches.t_s)
        ]
        result.heard["line" if on_node else "ohm"] += int((exposed & masked).sum())
        if on_node:
            result.heard["real"] += int((exposed & ~masked).sum())
        if drive.release_t_s is None:
            continue
        enough, ends = long_enough(glitches, rules, drive.tap)
        chosen = np.flatnonzero(enough & exposed)
        last = -1e9
        for i in chosen.tolist():
            t_s = float(glitches.t_s[i])
            fresh, last = t_s - last > MERGE_S, t_s
            if not fresh or (not on_node and not masked[i]):
                continue
            before = int(np.searchsorted(release, t_s, "right")) - 1
            if before >= 0 and held_from[before] > t_s:
                continue
            if _injecting(drive, t_s, rules):
                continue
            after = int(np.searchsorted(release, t_s))
            yes = after < len(release) and release[after] <= ends[i] and not other[after]
            target = result.under_mask if not on_node else result.line if masked[i] else result.real
            target.add(bool(yes))
            if target is result.real and glitches.towards_cold[i]:
                result.real_cold.add(bool(yes))


def _injecting(drive: Drive, t_s: float, rules: Rules) -> bool:
    reach = rules.injected_reach_s
    at = int(np.searchsorted(drive.injected_t_s, t_s + reach, "right")) - 1
    if at < 0:
        return False
    return t_s <= drive.injected_t_s[at] + drive.injected_length_s[at] + reach
