"""Straight pieces to steps: a new step only when the value has moved by the plan's resolution.

Each piece is cut at the crossings of a grid of ``resolution_c``; a step's value is the middle of
its cell, so that no instant is further than half a resolution from its step. A piece that stands
still for a second or more keeps its exact value.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.planning.timeline import Span

MAX_DWELL_MS = 60_000
"""Longest time of one step on the wire; longer ones are said again."""


@dataclass(frozen=True)
class StepTable:
    """Steps of one span, or of several in a row."""

    t_ms: np.ndarray
    """Start of each step from the start of the table, first pass. [ms]"""
    dwell_ms: np.ndarray
    celsius: np.ndarray
    contact: np.ndarray

    def __len__(self) -> int:
        return len(self.t_ms)


STILL_S = 1.0
"""A level piece at least this long keeps its exact value instead of its cell's middle. [s]"""


def _cells(t, c, resolution_c: float):
    """Start time, value and piece of every step of the pieces between knots ``t``, ``c``."""
    piece = np.flatnonzero(np.diff(t) > 0)
    first, last = c[piece] / resolution_c, c[piece + 1] / resolution_c
    low, high = np.rint(first), np.rint(last)
    sign = np.sign(high - low)
    count = np.abs(high - low).astype(np.int64) + 1
    row = np.repeat(np.arange(len(piece)), count)
    within = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    level = low[row] + sign[row] * within
    span = np.where(last == first, 1.0, last - first)
    fraction = np.where(within == 0, 0.0, (level - sign[row] / 2 - first[row]) / span[row])
    duration = t[piece + 1] - t[piece]
    start = t[piece][row] + np.clip(fraction, 0.0, 1.0) * duration[row]
    still = (first == last) & (duration >= STILL_S)
    value = np.where(still[row], c[piece][row], level * resolution_c)
    return start, value, piece[row]


def quantised(span: Span, resolution_c: float) -> StepTable:
    """The steps of one pass of a span. Times are whole milliseconds; no step has zero length."""
    start, value, piece = _cells(span.t_s, span.celsius, resolution_c)
    if not len(start):
        return StepTable(*(np.empty(0, d) for d in (np.int64, np.int64, float, np.uint8)))
    t_ms = np.rint(start * 1000).astype(np.int64)
    total_ms = round(float(span.t_s[-1]) * 1000)
    return _tidy(t_ms, value, span.contact[piece], total_ms)


def _tidy(t_ms, celsius, contact, total_ms: int) -> StepTable:
    """Drop empty steps, merge equal neighbours, cut long ones."""
    keep = np.append(np.diff(t_ms) > 0, t_ms[-1] < total_ms)
    t_ms, celsius, contact = t_ms[keep], celsius[keep], contact[keep]
    new = np.ones(len(t_ms), bool)
    new[1:] = (celsius[1:] != celsius[:-1]) | (contact[1:] != contact[:-1])
    t_ms, celsius, contact = t_ms[new], celsius[new], contact[new]
    dwell = np.diff(np.append(t_ms, total_ms))
    pieces = -(-dwell // MAX_DWELL_MS)
    index = np.repeat(np.arange(len(t_ms)), pieces)
    within = np.arange(len(index)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    t_ms = t_ms[index] + within * MAX_DWELL_MS
    dwell = np.minimum(dwell[index] - within * MAX_DWELL_MS, MAX_DWELL_MS)
    return StepTable(t_ms, dwell, celsius[index], contact[index])
