"""Live and later review are one: ``start``, ``step`` for each chunk, ``finish``.

Theory of operation. Every part works on fixed times, never on chunk ends: lines become clean after
their debounce, states are named after they settled, samples are judged by whole seconds, a release
is decided a fixed time after it happened with what had been recorded by then. So any cut of the
record gives the same facts; a property test holds that.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from locum.errors import Refused
from locum.review import attribution, side_channels
from locum.review.causes import ANSWERS, KEEP_MS, Acts
from locum.review.channels import AFTER_MS, Channel, Samples
from locum.review.chunk import (
    AUX_RETURN_OFFSET,
    AUX_SPEED,
    AUX_THROTTLE,
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
    findings.injections.extend(state.moves.answered_or_not(end_ms + 10**9))
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
        state.marks.append((t_ms, kind, t_ms - ago_ms))
        if kind in ANSWERS:
            state.acts.answers.append((t_ms, kind))


def _advance(
    state: ReviewState, chunk: Chunk, until_ms: int, findings: Findings, end_ms: int | None = None
) -> None:
    """Everything that has become certain by ``until_ms``; ``end_ms``: the record ended there."""
    changes = state.levels.feed(chunk, until_ms, findings)
    side_channels.sort_changes(state, changes, findings)
    horizon = state.levels.horizon_ms
    whole_second = until_ms // 1000 * 1000
    findings.throttle.extend(side_channels.throttle_moves(state, whole_second))
    side_channels.offset_events(state, whole_second, findings)
    samples, segment = state.samples.take(chunk.samples, until_ms)
    seen = [channel.feed(samples, segment, state.moves) for channel in state.channels]
    findings.temperature = np.concatenate([track for track, _ in seen])
    findings.temperature.sort(order="t_ms")
    # A glitch must not take the time in which it kicks out from the time that counts.
    steady = np.concatenate([track[fine] for track, fine in seen])
    steady.sort(order="t_ms")
    state.clock.ohms(steady)
    entered = state.naming.feed(changes, horizon)
    attribution.walk(state, entered, horizon, findings)
    _hand_on_glitches(state, horizon - AFTER_MS - 1500, findings)
    state.clock.settle(min(horizon - 2000, end_ms or horizon), findings, end_ms)
    before_ms = horizon - KEEP_MS
    state.acts.forget(before_ms)
    # Every release that could answer a disturbance ended before then has been decided.
    answered_ms = horizon - state.context.module_delay_ms[1] - state.leavings.wait_ms
    findings.injections.extend(state.moves.answered_or_not(answered_ms))
    state.moves.forget(before_ms)
    state.recent = [glitch for glitch in state.recent if glitch.t_ms >= before_ms]
    state.presses = [press for press in state.presses if press[0] >= before_ms]


def _hand_on_glitches(state: ReviewState, until_ms: float, findings: Findings) -> None:
    for channel in state.channels:
        glitches = channel.hand_on(until_ms, state.supply, findings)
        findings.glitches.extend(glitches)
        state.recent.extend(glitches)
