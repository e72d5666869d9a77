"""Live and later review are one: ``start``, ``step`` for each chunk, ``finish``.

Theory of operation. Every part works on fixed times, never on chunk ends: lines become clean after
their debounce, states are named after they settled, samples are judged by whole seconds, a release
is decided a fixed time after it happened with what had been recorded by then. So any cut of the
record gives the same facts; a property test holds that.
"""

from __future__ import annotations

import bisect
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from locum.errors import Refused
from locum.review.causes import ANSWER_WORDS, ANSWERS, KEEP_MS, Acts, cause_of
from locum.review.channels import AFTER_MS, Channel, Samples
from locum.review.chunk import (
    AUX_RETURN_OFFSET,
    AUX_SPEED,
    AUX_THROTTLE,
    MARK_BUTTON,
    MARK_KEY,
    Chunk,
)
from locum.review.context import Context
from locum.review.exposure_clock import ExposureClock
from locum.review.findings import Findings, Glitch, Release, joined
from locum.review.levels import Levels
from locum.review.moves import OwnMoves
from locum.review.naming import Naming
from locum.review.releases import Leaving, Leavings
from locum.review.scale import Scale
from locum.review.slow import SlowChannel

MARK_NAMES = ("button", "key", "foot", "brake", "road", "felt", "not_felt")
PRESSED_MS = (-1000, 5000)
"""A press this long before or after a release belongs to it."""


class ReviewState:
    """Everything that is carried from chunk to chunk."""

    def __init__(self, context: Context) -> None:
        self.context = context
        scale = Scale(context)
        self.moves = OwnMoves(scale)
        self.levels = Levels(context)
        self.naming = Naming(context)
        names = [group.name for group in self.naming.groups]
        self.group_names = names
        self.leavings = Leavings(context, names)
        self.samples = Samples()
        self.channels = [Channel("node", context, scale), Channel("ohmmeter", context, scale)]
        self.throttle = SlowChannel(context.throttle_step_v, 0.2, 0)
        self.offset = SlowChannel(context.offset_v, 0.1, 60_000)
        self.clock = ExposureClock(context.rule)
        self.acts = Acts()
        self.supply: list[tuple[int, bool]] = []
        self.recent: list[Glitch] = []
        self.releases: list[Release] = []
        self.waiting_regain: list[Leaving] = []
        self.waiting: list[tuple[int, int, int, int, str]] = []
        """(certain at, mark?, group or mark kind, t_ms, state name), in that order."""
        self.marks: list[tuple[int, int, int]] = []
        self.last_counted_ms = -(10**9)
        self.offset_since: int | None = None
        self.presses: list[tuple[int, int]] = []
        self.until_ms: int | None = None


def start(context: Context) -> ReviewState:
    """A review that has seen nothing yet.

    Raises
    ------
    Refused
        If lines or state patterns of the context contradict each other; all faults at once.
    """
    faults = context.faults()
    if faults:
        raise Refused(faults)
    return ReviewState(context)


def step(state: ReviewState, chunk: Chunk) -> tuple[ReviewState, Findings]:
    """Read one chunk; chunks follow each other without overlap.

    Returns the state (the same object, changed) and what became certain.
    """
    findings = Findings()
    _take(state, chunk, findings)
    _advance(state, chunk, chunk.end_ms, findings)
    state.until_ms = chunk.end_ms
    return state, findings


def finish(state: ReviewState) -> Findings:
    """What is still open when the record ends."""
    findings = Findings()
    if state.until_ms is None:
        return findings
    end_ms = state.until_ms
    _advance(state, Chunk(end_ms, end_ms + 60_000), end_ms + 60_000, findings, end_ms)
    for channel in state.channels:
        channel.finish()
    _hand_on_glitches(state, end_ms + 10**9, findings)
    findings.injections.extend(state.moves.forget(end_ms + 10**9))
    if state.offset_since is not None:
        findings.offset_events.append((state.offset_since, end_ms - state.offset_since))
    findings.brake.extend((on, end_ms - on) for on, off in state.acts.brake if off is None)
    state.leavings.finish(findings)
    return findings


def review(context: Context, chunks: Iterable[Chunk]) -> Findings:
    """A whole drive at once, in flat memory but for the findings."""
    state = start(context)
    parts = [step(state, chunk)[1] for chunk in chunks]
    return joined([*parts, finish(state)])


def _take(state: ReviewState, chunk: Chunk, findings: Findings) -> None:
    """Put the chunk's plain events where they are looked up later."""
    state.moves.feed(chunk.moves)
    for t_ms, name in state.moves.sources:
        if chunk.start_ms <= t_ms < chunk.end_ms:
            findings.sources.append((t_ms, name))
            state.clock.source(t_ms, name == "real")
    aux = chunk.aux
    for channel, target in ((AUX_THROTTLE, state.throttle), (AUX_RETURN_OFFSET, state.offset)):
        rows = aux[aux["channel"] == channel]
        target.add(rows["t_ms"], rows["value"] / 1e4)
    rows = aux[aux["channel"] == AUX_SPEED]
    speeds = list(zip(rows["t_ms"].tolist(), (rows["value"] / 100.0).tolist(), strict=True))
    state.acts.speed.extend(speeds)
    state.clock.speeds.extend(speeds)
    gaps = [(int(row["t_ms"]), int(row["until_ms"])) for row in chunk.gaps]
    state.acts.gaps.extend(gaps)
    state.clock.gaps.extend(gaps)
    for t_ms, kind, ago_ms in chunk.marks.tolist():
        findings.marks.append((t_ms - ago_ms, MARK_NAMES[kind]))
        state.marks.append((t_ms, kind, t_ms - ago_ms))
        if kind in ANSWERS:
            state.acts.answers.append((t_ms, kind))


def _advance(
    state: ReviewState, chunk: Chunk, until_ms: int, findings: Findings, end_ms: int | None = None
) -> None:
    """Everything that has become certain by ``until_ms``; ``end_ms``: the record ended there."""
    changes = state.levels.feed(chunk, until_ms, findings)
    _sort_changes(state, changes, findings)
    horizon = state.levels.horizon_ms
    whole_second = until_ms // 1000 * 1000
    findings.throttle.extend(_throttle(state, whole_second))
    _offset(state, whole_second, findings)
    samples, segment = state.samples.take(chunk.samples, until_ms)
    for channel in state.channels:
        track = channel.feed(samples, segment, state.moves)
        state.clock.ohms(track)
        findings.temperature = np.concatenate((findings.temperature, track))
    findings.temperature.sort(order="t_ms")
    entered = state.naming.feed(changes, horizon)
    _walk(state, entered, horizon, findings)
    _hand_on_glitches(state, horizon - AFTER_MS - 1500, findings)
    state.clock.settle(min(horizon - 2000, end_ms or horizon), findings, end_ms)
    before_ms = horizon - KEEP_MS
    state.acts.forget(before_ms)
    findings.injections.extend(state.moves.forget(before_ms))
    state.recent = [glitch for glitch in state.recent if glitch.t_ms >= before_ms]
    state.presses = [press for press in state.presses if press[0] >= before_ms]


def _sort_changes(state: ReviewState, changes, findings: Findings) -> None:
    roles = {spec.line: spec.role for spec in state.context.lines}
    for t_ms, line, on in changes:
        role = roles[line]
        if role == "brake":
            _brake(state, t_ms, on, findings)
        elif role == "ignition":
            state.supply.append((t_ms, on))
            findings.supply.append((t_ms, on))
            state.clock.ignition(t_ms, on)
        elif role == "selector":
            state.acts.selector.append(t_ms)


def _brake(state: ReviewState, t_ms: int, on: bool, findings: Findings) -> None:
    pulses = state.acts.brake
    if on:
        pulses.append((t_ms, None))
    elif pulses and pulses[-1][1] is None:
        pulses[-1] = (pulses[-1][0], t_ms)
        findings.brake.append((pulses[-1][0], t_ms - pulses[-1][0]))


def _throttle(state: ReviewState, whole_second: int) -> list[int]:
    moved = [t_ms for t_ms, away in state.throttle.settle(whole_second) if away]
    state.acts.throttle.extend(moved)
    return moved


def _offset(state: ReviewState, whole_second: int, findings: Findings) -> None:
    for t_ms, away in state.offset.settle(whole_second):
        if away:
            state.offset_since = t_ms
        elif state.offset_since is not None:
            findings.offset_events.append((state.offset_since, t_ms - state.offset_since))
            state.offset_since = None


def _walk(state: ReviewState, entered, horizon: int, findings: Findings) -> None:
    """States and marks in the order in which they become certain, decisions between them."""
    settles = 4 * state.context.settle_ms
    state.waiting += [(t_ms + settles, 0, index, t_ms, name) for t_ms, index, name in entered]
    state.waiting += [(t_ms, 1, kind, felt_ms, "") for t_ms, kind, felt_ms in state.marks]
    state.marks = []
    state.waiting.sort()
    count = bisect.bisect_right(state.waiting, horizon, key=lambda item: item[0])
    ready, state.waiting = state.waiting[:count], state.waiting[count:]
    for now_ms, is_mark, number, t_ms, name in ready:
        _decide(state, now_ms - 1, findings)
        if is_mark:
            _mark(state, now_ms, number, t_ms, findings)
        else:
            _enter(state, t_ms, number, name, findings)
    _decide(state, horizon, findings)


def _enter(state: ReviewState, t_ms: int, index: int, name: str, findings: Findings) -> None:
    label = f"{state.group_names[index]}: {name}" if index else name
    findings.states.append((t_ms, label))
    state.leavings.enter(t_ms, index, name, findings)
    state.clock.state(t_ms, index, name)
    _regain(state, t_ms, index, name, findings)


def _mark(state: ReviewState, t_ms: int, kind: int, felt_ms: int, findings: Findings) -> None:
    if kind in (MARK_BUTTON, MARK_KEY):
        state.presses.append((t_ms, felt_ms))
        _press(state, felt_ms, findings)
    elif kind in ANSWERS and not state.leavings.undecided_since(t_ms - KEEP_MS):
        _answer(state, t_ms, kind, findings)


def _decide(state: ReviewState, now_ms: int, findings: Findings) -> None:
    for leaving in state.leavings.due(now_ms):
        outcome = state.leavings.maybe_release(leaving)
        if outcome is None or _supply_lost(state, leaving.t_ms):
            continue
        release = _release(state, leaving, *outcome)
        if not release.repeat:
            state.last_counted_ms = release.t_ms
        findings.releases.append(release)
        state.releases = [*state.releases[-9:], release]
        if release.regained_ms is None:
            state.waiting_regain = [*state.waiting_regain[-9:], leaving]


def _supply_lost(state: ReviewState, t_ms: int) -> bool:
    return any(not on and t_ms - 500 <= t <= t_ms + 1000 for t, on in state.supply)


def _release(state: ReviewState, leaving: Leaving, to_state: str, regained: int | None) -> Release:
    t_ms, now_ms = leaving.t_ms, leaving.t_ms + state.leavings.wait_ms
    cause = cause_of(state.context, state.acts, t_ms, now_ms, _own(state, t_ms))
    return Release(
        t_ms,
        leaving.from_state,
        to_state,
        regained,
        cause.cause,
        cause.detail,
        _linked(state, t_ms),
        t_ms - state.last_counted_ms < state.context.refractory_ms,
        any(PRESSED_MS[0] <= felt - t_ms <= PRESSED_MS[1] for _, felt in state.presses),
        cause.brake_pulse_ms,
    )


def _own(state: ReviewState, t_ms: int) -> str:
    """Name of the board's own disturbance that a release answers, empty if there is none."""
    longest = state.context.module_delay_ms[1]
    for item in reversed(state.moves.disturbances):
        end_ms = min(item.lasts_until_ms, t_ms)
        if item.t_ms <= t_ms <= end_ms + longest:
            if item.answered_ms is None:
                item.answered_ms = t_ms - item.t_ms
            return item.kind
    return ""


def _linked(state: ReviewState, t_ms: int) -> int | None:
    """Start of the latest glitch on the module's line within its look-back."""
    context = state.context
    spans = [(float(g.t_ms), g.t_ms + g.length_ms) for g in state.recent if g.channel == "node"]
    spans += state.channels[0].spans_until(t_ms, state.supply)
    best = None
    for start_ms, end_ms in sorted(spans):
        length = min(end_ms, t_ms) - start_ms
        if not start_ms <= t_ms <= start_ms + length + context.module_delay_ms[1]:
            continue
        if length >= (context.shortest_answered_ms or 0):
            best = int(start_ms)
    return best


def _regain(state: ReviewState, t_ms: int, index: int, name: str, findings: Findings) -> None:
    for leaving in list(state.waiting_regain):
        if leaving.group == index and leaving.from_state == name and t_ms > leaving.t_ms:
            state.waiting_regain.remove(leaving)
            _amend(state, leaving.t_ms, findings, regained_ms=t_ms)


def _press(state: ReviewState, felt_ms: int, findings: Findings) -> None:
    for release in state.releases:
        if PRESSED_MS[0] <= felt_ms - release.t_ms <= PRESSED_MS[1] and not release.pressed:
            _amend(state, release.t_ms, findings, pressed=True)


def _answer(state: ReviewState, t_ms: int, kind: int, findings: Findings) -> None:
    """A key after the bell says foot, brake or road: it belongs to the latest release."""
    before = [r for r in state.releases if r.t_ms <= t_ms <= r.t_ms + KEEP_MS]
    if before and before[-1].cause in ("none", "unknown"):
        words = f"answered: {ANSWER_WORDS[kind]}"
        _amend(state, before[-1].t_ms, findings, cause=ANSWERS[kind], cause_detail=words)


def _amend(state: ReviewState, t_ms: int, findings: Findings, **fields) -> None:
    for i, release in enumerate(state.releases):
        if release.t_ms == t_ms:
            state.releases[i] = replace(release, **fields)
            findings.amended.append(state.releases[i])


def _hand_on_glitches(state: ReviewState, until_ms: float, findings: Findings) -> None:
    for channel in state.channels:
        glitches = channel.hand_on(until_ms, state.supply, findings)
        findings.glitches.extend(glitches)
        state.recent.extend(glitches)
