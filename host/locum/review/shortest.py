"""The shortest glitch the module answers, measured on a grid of lengths.

Shorter glitches than this neither link to kick-outs nor blame. Lengths are tried on a log grid,
longest first, then halved between the shortest "yes" and the longest "no"; a length counts as
answered if two of two (or two of three) trials were.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from locum.review.findings import Injection

GRID_MS = (10_000, 5000, 2000, 1000, 500, 200, 100, 50, 20, 10)


@dataclass
class ShortestAnswered:
    """Asks for the next length until the bracket is narrow enough."""

    ratio: float = 1.25
    """Stop when the shortest "yes" is within this of the longest "no"."""
    tried: dict[int, list[bool]] = field(default_factory=dict)

    def answer(self, length_ms: int, yes: bool) -> None:
        self.tried.setdefault(length_ms, []).append(yes)

    def _verdict(self, length_ms: int) -> bool | None:
        answers = self.tried.get(length_ms, [])
        if answers.count(True) >= 2:
            return True
        return False if answers.count(False) >= 2 else None

    @property
    def bracket_ms(self) -> tuple[int, int | None]:
        """(longest not answered, shortest answered or None)."""
        yes = [length for length in self.tried if self._verdict(length) is True]
        shortest = min(yes, default=None)
        no = [
            length
            for length in self.tried
            if self._verdict(length) is False and (shortest is None or length < shortest)
        ]
        return max(no, default=0), shortest

    @property
    def next_ms(self) -> int | None:
        """Length to try now; None when done or nothing on the grid is answered."""
        low, high = self.bracket_ms
        open_lengths = [length for length in self.tried if self._verdict(length) is None]
        inside = [x for x in open_lengths if x > low and (high is None or x < high)]
        if inside:
            return max(inside)
        for length in GRID_MS:
            if length not in self.tried and low < length and (high is None or length < high):
                return length
        if high is None or (low and high <= self.ratio * low) or low == 0:
            return None
        return round((low * high) ** 0.5)


def from_injections(injections: Sequence[Injection], kind: str = "open") -> tuple[int, int | None]:
    """Bracket of the shortest length answered from injections of a drive. [ms]

    The longest that was never answered below the shortest above which all were.
    """
    mine = sorted((i.length_ms, i.answered_ms is not None) for i in injections if i.kind == kind)
    shortest = None
    for length, yes in reversed(mine):
        if not yes:
            break
        shortest = length
    no = [length for length, yes in mine if not yes and (shortest is None or length < shortest)]
    return max(no, default=0), shortest


def delays_ms(injections: Sequence[Injection]) -> tuple[int, int] | None:
    """Shortest and longest delay from an injection's start to the module's answer. [ms]"""
    seen = [i.answered_ms for i in injections if i.answered_ms is not None]
    return (min(seen), max(seen)) if seen else None
