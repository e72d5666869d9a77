"""A vehicle sheet from a drive in which the operator names each state as it comes.

The marks (time, name) fall somewhere inside the state they name; the pattern of a state is what
the lines showed for most of the time around its marks. Lines that never differ between states are
left out, two names with one pattern are told as ambiguous, lines that flicker as candidates for
pwm.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from locum.errors import Remark
from locum.review.chunk import Chunk
from locum.review.context import Context, LineSpec, StatePattern
from locum.review.findings import Findings
from locum.review.levels import Levels

AROUND_MS = 1000
"""A state is named by what stood this long before the saying and after it: whoever is quick names it
a moment after it came, whoever is slow a moment before it goes."""
STEADY = 0.7
"""Below this share of the votes a name is remarked upon."""
FLICKERS_PER_S = 5.0


@dataclass(frozen=True)
class Learned:
    """Patterns found, and what must be looked at by a person."""

    patterns: tuple[StatePattern, ...]
    remarks: tuple[Remark, ...]
    seconds: dict[str, float]
    """How long each pattern without a name stood; bits in order of the lines."""


Named = Sequence[tuple[int, str]]
"""(t_ms, name): moments at which the operator said the name of the present state."""


def learn(
    lines: Sequence[LineSpec], chunk: Chunk, named: Named, held: Sequence[str] = ()
) -> Learned:
    """State patterns from one record and named moments; see :func:`learn_over`."""
    return learn_over(lines, [(chunk, named)], held)


def learn_over(
    lines: Sequence[LineSpec], parts: Sequence[tuple[Chunk, Named]], held: Sequence[str] = ()
) -> Learned:
    """State patterns from one or more records of the same vehicle, each with its named moments.

    Parameters
    ----------
    lines : sequence of LineSpec
        Outputs to learn from, polarity and kind already set.
    parts : sequence of (chunk, named)
        Each recording's lines with the moments at which the operator said the present state's name.
    held : sequence of str
        Names of states whose loss is a release.
    """
    outputs = [spec for spec in lines if spec.role == "output" and spec.kind != "ignore"]
    spans = [_spans(outputs, chunk) for chunk, _ in parts]
    remarks = _flickering(outputs, [chunk for chunk, _ in parts])
    votes: dict[str, dict[tuple, float]] = defaultdict(lambda: defaultdict(float))
    for stood, (_, named) in zip(spans, parts, strict=True):
        for t_ms, name in named:
            for bits, share in _around(stood, t_ms):
                votes[name][bits] += share
    names = dict.fromkeys(name for _, named in parts for _, name in named)
    patterns: list[StatePattern] = []
    taken: dict[tuple, str] = {}
    for name in names:
        bits, doubts = _pattern_of(name, votes[name], taken)
        remarks += doubts
        if bits is not None:
            taken[bits] = name
            levels = tuple((spec.line, on) for spec, on in zip(outputs, bits, strict=True))
            patterns.append(StatePattern(name, levels, held=name in held))
    unnamed: dict[str, float] = defaultdict(float)
    for begin, end, bits in (span for stood in spans for span in stood):
        if bits not in taken:
            unnamed["".join("1" if on else "0" for on in bits)] += (end - begin) / 1000.0
    return Learned(_slim(patterns), tuple(remarks), dict(unnamed))


def _pattern_of(
    name: str, counter: dict[tuple, float], taken: dict[tuple, str]
) -> tuple[tuple | None, list[Remark]]:
    """The pattern that stood for most of the time around a name's moments, and the doubts about it."""
    if not counter:
        return None, [Remark("no_level", f"state {name}", "lines that had a level", "none yet")]
    remarks = []
    bits, weight = max(counter.items(), key=lambda item: item[1])
    if weight < STEADY * sum(counter.values()):
        remarks.append(
            Remark("unsteady", f"state {name}", "the same levels each time it is named",
                   f"{len(counter)} patterns", "name it again in steady driving")
        )  # fmt: skip
    if bits not in taken:
        return bits, remarks
    same = Remark("same_pattern", f"states {taken[bits]} and {name}", "a pattern each",
                  "the same levels", "watch another line or the selector")  # fmt: skip
    return None, [*remarks, same]


def _spans(outputs: Sequence[LineSpec], chunk: Chunk) -> list[tuple[int, int, tuple]]:
    """(begin, end, bits) while all lines have a level."""
    context = Context(lines=tuple(outputs))
    levels = Levels(context)
    changes = levels.feed(chunk, chunk.end_ms + 1000, Findings())
    present: dict[int, bool | None] = {spec.line: None for spec in outputs}
    spans, since = [], chunk.start_ms
    for t_ms, line, on in [*changes, (chunk.end_ms, -1, False)]:
        if None not in present.values() and t_ms > since:
            spans.append((since, t_ms, tuple(present[spec.line] for spec in outputs)))
        since = t_ms
        if line >= 0:
            present[line] = on
    return spans


def _around(spans, t_ms: int) -> list[tuple[tuple, float]]:
    """Patterns in the time around a mark, by their share."""
    low, high = t_ms - AROUND_MS, t_ms + AROUND_MS
    found = []
    for begin, end, bits in spans:
        inside = min(end, high) - max(begin, low)
        if inside > 0:
            found.append((bits, inside / (high - low)))
    return found


def _flickering(outputs: Sequence[LineSpec], chunks: Sequence[Chunk]) -> list[Remark]:
    seconds = max(sum(chunk.end_ms - chunk.start_ms for chunk in chunks) / 1000.0, 1.0)
    remarks = []
    for spec in outputs:
        count = sum(int((chunk.edges["line"] == spec.line).sum()) for chunk in chunks)
        if spec.kind == "switched" and count > FLICKERS_PER_S * seconds:
            remarks.append(
                Remark("flickers", f"line {spec.line}", "a switched line",
                       f"{count / seconds:.0f} changes a second", "set its kind to pwm or peak_hold")
            )  # fmt: skip
    return remarks


def _slim(patterns: list[StatePattern]) -> tuple[StatePattern, ...]:
    """Leave out lines that have the same level in every state."""
    if len(patterns) < 2:
        return tuple(patterns)
    differing = {
        line for line, _ in patterns[0].levels if len({dict(p.levels)[line] for p in patterns}) > 1
    }
    return tuple(
        StatePattern(
            p.name, tuple((line, on) for line, on in p.levels if line in differing), p.held
        )  # fmt: skip
        for p in patterns
    )
