"""States entered to releases: what was left, for how long, how often.

A release is the loss of a held state that had stood 3 s, for 0.5 s or more. It is decided on a
fixed time after it happened, so that nothing that comes later can change the decision and live
review says what the later one says.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from locum.review.context import Context
from locum.review.findings import Findings

HUNTING_MS, HUNTING_CHANGES = 60_000, 4


@dataclass
class Leaving:
    """A held state was left; not decided yet."""

    t_ms: int
    group: int
    from_state: str
    later: list[tuple[int, str]] = field(default_factory=list)
    """States of the group entered since, the first at ``t_ms``."""


@dataclass
class _Group:
    """What one group of outputs is doing."""

    state: str | None = None
    since_ms: int = 0
    held: str | None = None
    held_since_ms: int = 0
    leaving: Leaving | None = None
    changes: list[int] = field(default_factory=list)
    hunting: bool = False


class Leavings:
    """States in, leavings out once their time to be decided has come."""

    def __init__(self, context: Context, group_names: list[str]) -> None:
        self._context = context
        self._groups = [_Group() for _ in group_names]
        self._held = {(p.group, p.name) for p in context.patterns if p.held}
        self._passing = {(p.group, p.name) for p in context.patterns if p.transition}
        self._names = group_names
        settles = 4 * context.settle_ms
        passing = context.transition_ms if self._passing else 0
        self.wait_ms = max(context.lasting_ms, passing, 1200 - settles) + settles
        """From a release to its decision. Samples are judged by whole seconds, 40 ms later."""
        self._undecided: list[Leaving] = []

    def enter(self, t_ms: int, index: int, name: str, findings: Findings) -> None:
        """A group entered a state."""
        group = self._groups[index]
        is_held = (self._names[index], name) in self._held
        if group.leaving is not None:
            group.leaving.later.append((t_ms, name))
        if group.state is not None and group.state == group.held and name != group.held:
            self._leave(t_ms, index, group, name)
            self._note_change(t_ms, group, findings)
        if is_held:
            if group.held == name and group.leaving is not None:
                self._return(t_ms, group)
                self._note_change(t_ms, group, findings)
            elif group.held != name or group.state != name:
                group.held, group.held_since_ms = name, t_ms
            group.leaving = None
        group.state, group.since_ms = name, t_ms

    def _leave(self, t_ms: int, index: int, group: _Group, name: str) -> None:
        established = t_ms - group.held_since_ms >= self._context.established_ms
        leaving = Leaving(t_ms, index, group.held or "", [(t_ms, name)])
        group.leaving = leaving
        if established:
            self._undecided.append(leaving)
            self._undecided.sort(key=lambda item: (item.t_ms, item.group))

    def _return(self, t_ms: int, group: _Group) -> None:
        leaving = group.leaving
        assert leaving is not None
        gone_ms = t_ms - leaving.t_ms
        names = {name for _, name in leaving.later[:-1]}
        group_name = self._names[leaving.group]
        passed = all((group_name, name) in self._passing for name in names)
        if gone_ms >= self._context.lasting_ms and not (
            passed and gone_ms <= self._context.transition_ms
        ):
            group.held_since_ms = t_ms

    def _note_change(self, t_ms: int, group: _Group, findings: Findings) -> None:
        if group.changes and t_ms - group.changes[-1] > HUNTING_MS:
            self._end_hunting(group, findings)
        group.changes.append(t_ms)
        recent = [t for t in group.changes if t_ms - t <= HUNTING_MS]
        group.hunting = group.hunting or len(recent) >= HUNTING_CHANGES
        if not group.hunting:
            group.changes = recent

    @staticmethod
    def _end_hunting(group: _Group, findings: Findings) -> None:
        if group.hunting:
            findings.hunting.append((group.changes[0], group.changes[-1], len(group.changes)))
        group.changes, group.hunting = [], False

    def finish(self, findings: Findings) -> None:
        for group in self._groups:
            self._end_hunting(group, findings)

    def undecided_since(self, since_ms: int) -> bool:
        """True while a leaving newer than this waits for its decision."""
        return any(item.t_ms >= since_ms for item in self._undecided)

    def due(self, horizon_ms: int) -> list[Leaving]:
        """Leavings whose time has come, in order of their time."""
        ready = [item for item in self._undecided if item.t_ms + self.wait_ms <= horizon_ms]
        self._undecided = self._undecided[len(ready) :]
        return ready

    def maybe_release(self, leaving: Leaving) -> tuple[str, int | None] | None:
        """(to_state, regained_ms) if it lasted, None if it was no release after all."""
        group = self._names[leaving.group]
        end_ms = leaving.t_ms + self.wait_ms - 4 * self._context.settle_ms
        later = [(t, name) for t, name in leaving.later if t <= end_ms]
        regained = next((t for t, name in later if name == leaving.from_state), None)
        firm = [name for _, name in later if (group, name) not in self._passing]
        to_state = next((name for name in firm if name != leaving.from_state), None)
        if to_state is None and regained is not None:
            return None
        if regained is not None and regained - leaving.t_ms < self._context.lasting_ms:
            return None
        if to_state is not None and (group, to_state) in self._held and regained is None:
            return None
        return to_state or later[-1][1], regained
