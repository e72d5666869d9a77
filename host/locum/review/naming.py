"""Clean levels to states in the vehicle sheet's words.

Lines that belong together change up to ``settle_ms`` apart, so a pattern is named once it has
been still that long (at most four times that). A pattern the sheet does not have is shown as
``?`` with its bits, never as the nearest state.
"""

from __future__ import annotations

from locum.review.context import Context, StatePattern


class Group:
    """One set of outputs that is named by itself (the gears, the fan)."""

    def __init__(self, name: str, patterns: list[StatePattern], settle_ms: int) -> None:
        self.name = name
        self.patterns = sorted(patterns, key=lambda pattern: pattern.transition)
        self.lines = sorted({line for pattern in patterns for line, _ in pattern.levels})
        self.settle_ms = settle_ms
        self._levels: dict[int, bool | None] = dict.fromkeys(self.lines)
        self._first_ms: int | None = None
        self._due_ms = 0
        self.state: str | None = None

    def change(self, t_ms: int, line: int, on: bool) -> None:
        self._levels[line] = on
        if self._first_ms is None:
            self._first_ms = t_ms
        self._due_ms = min(t_ms + self.settle_ms, self._first_ms + 4 * self.settle_ms)

    def maybe_named(self, now_ms: int) -> tuple[int, str] | None:
        """The state entered, if the lines have been still long enough and it is another one."""
        if self._first_ms is None or self._due_ms > now_ms:
            return None
        t_ms, self._first_ms = self._first_ms, None
        name = self._name()
        if name is None or name == self.state:
            return None
        self.state = name
        return t_ms, name

    def _name(self) -> str | None:
        for pattern in self.patterns:
            if all(self._levels[line] == on for line, on in pattern.levels):
                return pattern.name
        if any(on is None for on in self._levels.values()):
            return None
        return "? " + "".join("1" if self._levels[line] else "0" for line in self.lines)


class Naming:
    """All groups; clean changes in, ``(t_ms, group, name)`` out in order of being settled."""

    def __init__(self, context: Context) -> None:
        names = list(dict.fromkeys(pattern.group for pattern in context.patterns))
        self.groups = [
            Group(name, [p for p in context.patterns if p.group == name], context.settle_ms)
            for name in names
        ]

    def feed(
        self, changes: list[tuple[int, int, bool]], horizon_ms: int
    ) -> list[tuple[int, int, str]]:
        entered = []
        for t_ms, line, on in changes:
            self._settle(t_ms - 1, entered)
            for group in self.groups:
                if line in group.lines:
                    group.change(t_ms, line, on)
        self._settle(horizon_ms, entered)
        return entered

    def _settle(self, now_ms: int, entered: list[tuple[int, int, str]]) -> None:
        for index, group in enumerate(self.groups):
            named = group.maybe_named(now_ms)
            if named:
                entered.append((named[0], index, named[1]))
