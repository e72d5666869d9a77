"""What a case can be compared by: words of it, and traits such as threshold or length of glitches.

Both are made from the case's fields and findings whenever these change, and can be made again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from locum.casebook.records import Case, Finding
from locum.casebook.synonyms import folded

WORDS_VERSION = "1"
"""Raise it when this file changes what is found: casebooks are then indexed anew when opened."""

_SILENT_KINDS = ("filed", "erased", "hand_back", "closed")
"""Findings whose words would only make every case look alike."""


@dataclass(frozen=True)
class Trait:
    """One thing a case can be found by: a word, or a range of numbers."""

    kind: str
    """``family component cause towards threshold_c length_ms after_minutes``."""
    word: str = ""
    low: float | None = None
    high: float | None = None


def words_of(case: Case, findings: Iterable[Finding], notes: Iterable[str]) -> str:
    """All words of a case, one leaf a line."""
    lines = list(_leaves(case.fields))
    for finding in findings:
        if finding.kind not in _SILENT_KINDS:
            lines.extend(_leaves(finding.body))
    lines.extend(note for note in notes if note)
    return "\n".join(dict.fromkeys(lines))


def _leaves(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for item in value.values():
            yield from _leaves(item)
    elif isinstance(value, list):
        for item in value:
            yield from _leaves(item)
    elif isinstance(value, str) and value.strip():
        yield value.strip()
    elif isinstance(value, int) and not isinstance(value, bool):
        yield str(value)


def traits_of(case: Case, findings: Iterable[Finding]) -> list[Trait]:
    """Traits of a case; the newest finding that tells one counts."""
    fields = case.fields
    vehicle = _table(fields.get("vehicle"))
    family = vehicle.get("family") or vehicle.get("model")
    found: dict[str, Trait] = {}
    for kind, word in (("family", family), ("component", fields.get("component"))):
        if isinstance(word, str) and word.strip():
            found[kind] = Trait(kind, folded(word).strip())
    after = _number(_table(fields.get("rule")).get("minutes_after_start"))
    if after is not None:
        found["after_minutes"] = Trait("after_minutes", "", after, after)
    for finding in findings:
        for trait in _told_by(finding):
            found[trait.kind] = trait
    return list(found.values())


def _told_by(finding: Finding) -> Iterator[Trait]:
    body = finding.body
    if finding.kind == "found":
        word = body.get("part") or body.get("cause")
        if isinstance(word, str) and word.strip():
            yield Trait("cause", folded(word).strip())
    if finding.kind in ("signature", "threshold", "verdict"):
        towards = body.get("towards")
        if isinstance(towards, str) and towards:
            yield Trait("towards", folded(towards))
        for kind, names in _SPANS.items():
            span = _span(body, names)
            if span:
                yield Trait(kind, "", *span)


_SPANS = {
    "threshold_c": ("threshold_c", "falling_c", "rising_c"),
    "length_ms": ("length_ms", "shortest_ms", "longest_ms"),
    "after_minutes": ("after_minutes",),
}


def _span(body: dict[str, Any], names: tuple[str, ...]) -> tuple[float, float] | None:
    numbers = []
    for name in names:
        value = body.get(name)
        for item in value if isinstance(value, list) else [value]:
            number = _number(item)
            if number is not None:
                numbers.append(number)
    return (min(numbers), max(numbers)) if numbers else None


def _number(value: Any) -> float | None:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return float(value)
    return None


def _table(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}
