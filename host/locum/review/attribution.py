"""From states and marks to releases with their causes, their links and what is learnt of them later.

States and marks are walked in the order in which they become certain; a release is decided a fixed
time after it happened, with what had been recorded by then, and amended when its state comes back,
the mark button is pressed or a key answers the bell.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from typing import TYPE_CHECKING

from locum.review.causes import ANSWER_WORDS, ANSWERS, KEEP_MS, cause_of
from locum.review.chunk import MARK_BUTTON, MARK_KEY, MARK_NAMES
from locum.review.findings import Findings, Release
from locum.review.releases import Leaving

if TYPE_CHECKING:
    from locum.review.stream import ReviewState

PRESSED_MS = (-1000, 5000)
"""A press this long before or after a release belongs to it."""
LATE_MS, LATE_SHARE = 5000, 0.5
"""A press told to be this late or later, as "about 30 s ago", is that far off by up to such a share."""


def walk(state: ReviewState, entered, horizon: int, findings: Findings) -> None:
    """States and marks in the order in which they become certain, decisions between them."""
    settles = 4 * state.context.settle_ms
    state.waiting += [(t_ms + settles, 0, index, t_ms, name) for t_ms, index, name in entered]
    state.waiting += [(t_ms, 1, kind, felt_ms, "") for t_ms, kind, felt_ms in state.marks]
    state.marks = []
    state.waiting.sort()
    count = bisect_right(state.waiting, horizon, key=lambda item: item[0])
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
        felt_ms = _meant(state, felt_ms, t_ms - felt_ms)
        state.presses.append((t_ms, felt_ms))
        _press(state, felt_ms, findings)
    findings.marks.append((felt_ms, MARK_NAMES[kind]))
    if kind in ANSWERS and not state.leavings.undecided_since(t_ms - KEEP_MS):
        _answer(state, t_ms, kind, findings)


def _meant(state: ReviewState, felt_ms: int, ago_ms: int) -> int:
    """When it was felt: of a late press at the release it means, which nobody times to the second.

    The nearest unexplained one within half of what was told, else the nearest of any cause, else
    as told.
    """
    if ago_ms < LATE_MS:
        return felt_ms
    off = {r.t_ms: abs(r.t_ms - felt_ms) for r in state.releases}
    near = [r for r in state.releases if off[r.t_ms] <= max(LATE_SHARE * ago_ms, PRESSED_MS[1])]
    unexplained = [r for r in near if r.cause in ("none", "unknown")]
    return min((r.t_ms for r in unexplained or near), key=off.__getitem__, default=felt_ms)


def _decide(state: ReviewState, now_ms: int, findings: Findings) -> None:
    for leaving in state.leavings.due(now_ms):
        outcome = state.leavings.maybe_release(leaving)
        if outcome is None or _supply_lost(state, leaving.t_ms):
            continue
        release = _release(state, leaving, *outcome)
        # What the driver or the road did hides no kick-out that comes soon after.
        if not release.repeat and release.cause not in ("driver", "road"):
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
