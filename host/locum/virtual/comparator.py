"""A comparator with hysteresis whose change counts once it has lasted."""

from __future__ import annotations

NEVER_MS = 1 << 62


class Comparator:
    """High or low with hysteresis; ``counts`` is the confirmed state."""

    __slots__ = ("confirm_ms", "counts", "down_v", "due_ms", "high", "name", "release_ms", "up_v")

    def __init__(self, name: str, confirm_s: float, release_s: float, high: bool) -> None:
        self.name = name
        self.up_v = self.down_v = 0.0
        self.high = self.counts = high
        self.confirm_ms = max(0, round(confirm_s * 1000))
        self.release_ms = max(0, round(release_s * 1000))
        self.due_ms = NEVER_MS

    def turn(self, t_ms: int, high: bool, raised_is_bad: bool) -> None:
        self.high = high
        if high == self.counts:
            self.due_ms = NEVER_MS
        else:
            self.due_ms = t_ms + (self.confirm_ms if high == raised_is_bad else self.release_ms)
