"""One drive counted: kick-outs by what fed the module and what came before them.

Theory of operation. Every release in exposed time gets what the channels say about it: a throttle
move or a long enough brake pulse explains it (the driver's own); an injection makes it ours;
otherwise it is a kick-out. Kick-outs closer than a minute are one burst, told by its first. Each
burst notes what came before it: a glitch on the module's line long enough to be answered, a short
brake pulse, a shift of the return wire, a press of the button. Glitches are counted the other way
round as well: long enough, the state held - did a kick-out follow?
"""

from __future__ import annotations

import numpy as np

from locum.verdict.answering import held_again
from locum.verdict.coincidence import covered_share
from locum.verdict.counts import Answers, Burst, Tally
from locum.verdict.evidence import Drive
from locum.verdict.look_back import (
    PRESS_S,
    Rules,
    brake_pulse_before,
    explained,
    felt_at,
    is_injecting,
    long_enough,
    look_backs,
)
from locum.verdict.spans import Clock, lies_within

__all__ = ["Answers", "Burst", "Rules", "Tally", "tally"]


MERGE_S = 60.0


def tally(drive: Drive, number: int, rules: Rules) -> Tally:
    """Count one drive."""
    clock = Clock(drive)
    result = Tally()
    result.hours, result.outside_by_foot_h = clock.hours()
    release = drive.release_t_s if drive.release_t_s is not None else np.empty(0)
    pulse = brake_pulse_before(drive, release)
    driver, ours = explained(drive, release, pulse, rules)
    exposed = clock.is_exposed(release) if len(release) else np.zeros(0, bool)
    result.own = int((driver & exposed).sum())
    result.brake_at_release = pulse[exposed & ~np.isnan(pulse)]
    if drive.brake_t_s is not None and len(drive.brake_t_s) and drive.brake_length_s is not None:
        result.brake_pulses = drive.brake_length_s[clock.is_exposed(drive.brake_t_s)]
    if drive.offset_t_s is not None:
        result.offsets = (
            int(clock.is_exposed(drive.offset_t_s).sum()) if len(drive.offset_t_s) else 0
        )
    pressed = felt_at(drive, release)
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


def _outside(result: Tally, clock: Clock, times: np.ndarray, rules: Rules, pressed) -> None:
    last = -1e9
    where = clock.index(times)
    for t_s, at, felt in zip(times.tolist(), where.tolist(), pressed.tolist(), strict=True):
        foot = clock.stretches[at].foot
        if t_s - last > MERGE_S and rules.counts(foot, felt):
            result.outside[foot] += 1
        last = t_s


def _bursts(result: Tally, drive, number, rules, clock: Clock, kicks, pulse, pressed) -> None:
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
    windows = look_backs(drive, rules)
    hits = {name: lies_within(*spans, times) for name, spans in windows.items()}
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


def _presses(result: Tally, drive: Drive, clock: Clock, release, driver) -> None:
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


def _glitches(result: Tally, drive: Drive, rules: Rules, clock: Clock, release, other) -> None:
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
            if is_injecting(drive, t_s, rules):
                continue
            after = int(np.searchsorted(release, t_s))
            yes = after < len(release) and release[after] <= ends[i] and not other[after]
            target = result.under_mask if not on_node else result.line if masked[i] else result.real
            target.add(bool(yes))
            if target is result.real and glitches.towards_cold[i]:
                result.real_cold.add(bool(yes))
