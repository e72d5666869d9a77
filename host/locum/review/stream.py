"""Live and later review are one: ``start``, ``step`` for each chunk, ``finish``."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from locum.review.chunk import Chunk
from locum.review.context import Context
from locum.review.findings import Findings, joined


@dataclass
class ReviewState:
    """Everything that is carried from chunk to chunk."""

    context: Context


def start(context: Context) -> ReviewState:
    """A review that has seen nothing yet.

    Raises
    ------
    Refused
        If lines or state patterns of the context contradict each other; all faults at once.
    """
    return ReviewState(context)


def step(state: ReviewState, chunk: Chunk) -> tuple[ReviewState, Findings]:
    """Read one chunk; chunks follow each other without overlap.

    Returns the state (the same object, changed) and what became certain.
    """
    return state, Findings()


def finish(state: ReviewState) -> Findings:
    """What is still open when the record ends."""
    return Findings()


def review(context: Context, chunks: Iterable[Chunk]) -> Findings:
    """A whole drive at once, in flat memory but for the findings."""
    state = start(context)
    parts = [step(state, chunk)[1] for chunk in chunks]
    return joined([*parts, finish(state)])
