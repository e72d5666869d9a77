"""From raw record to facts: lines, states, releases and their causes, glitches, thresholds."""

from locum.review.context import Context, ExposureRule, LineSpec, StatePattern
from locum.review.findings import (
    Exposure,
    Findings,
    Glitch,
    Injection,
    Release,
    joined,
)
from locum.review.stream import ReviewState, finish, review, start, step

__all__ = [
    "Context",
    "Exposure",
    "ExposureRule",
    "Findings",
    "Glitch",
    "Injection",
    "LineSpec",
    "Release",
    "ReviewState",
    "StatePattern",
    "finish",
    "joined",
    "review",
    "start",
    "step",
]
