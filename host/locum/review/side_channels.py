"""What the lines beside the outputs tell: brake, ignition, selector, throttle, return wire."""

from __future__ import annotations

from typing import TYPE_CHECKING

from locum.review.findings import Findings

if TYPE_CHECKING:
    from locum.review.stream import ReviewState


def sort_changes(state: ReviewState, changes, findings: Findings) -> None:
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


def throttle_moves(state: ReviewState, whole_second: int) -> list[int]:
    moved = [t_ms for t_ms, away in state.throttle.settle(whole_second) if away]
    state.acts.throttle.extend(moved)
    return moved


def offset_events(state: ReviewState, whole_second: int, findings: Findings) -> None:
    for t_ms, away in state.offset.settle(whole_second):
        if away:
            state.offset_since = t_ms
        elif state.offset_since is not None:
            findings.offset_events.append((state.offset_since, t_ms - state.offset_since))
            state.offset_since = None
