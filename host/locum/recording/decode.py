"""From the board's blocks of raw record to arrays in volts and ohms; the inverse of the ring.

The board sends 8-byte slots (layout: ``locum_board/records.py``). A sample begins where the one
before it ended; TIME slots and the block's header say where that is. Here ticks are unwrapped,
counts become 0.1 mV and milliohm, and events are held back until the samples have reached their
time, so that a chunk ``[start_ms, end_ms)`` is complete. The result does not depend on how the
record was cut into blocks.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from locum.recording.blocks import Header, read_block, runs_of
from locum.recording.slots import EVENT_NAMES, events_of, samples_of, values_of
from locum.review.chunk import (
    GAP,
    Chunk,
)
from locum_board import records

WRAP = 1 << 30
HOLE_MS = 20
"""A step in time between samples beyond this is told as a gap, though no record was counted lost."""


class Decoder:
    """Feed blocks in order; get chunks whose times begin at 0 where the record begins."""

    def __init__(self) -> None:
        self.until_ms = 0
        """Samples are decoded up to here: the end of the last chunk. [ms]"""
        self.lost = 0
        """Slots the board counted as lost since its power-up, as of the last block."""
        self._boot: int | None = None
        self._seq = 0
        self._tick = 0
        self._tick_ms = 0
        self._held: dict[str, np.ndarray] = {}

    def feed(self, block: bytes) -> Chunk:
        """Decode one block."""
        return self.feed_many((block,))

    def feed_many(self, blocks: Iterable[bytes]) -> Chunk:
        """Decode several blocks at once: the quick way through a long record."""
        start = self.until_ms
        parts: dict[str, list[np.ndarray]] = {}
        for run in runs_of([read_block(block) for block in blocks]):
            for name, rows in self._run(run).items():
                parts.setdefault(name, []).append(rows)
        return self._chunk(start, parts)

    def finish(self) -> Chunk:
        """The events still held back, at the end of a record."""
        last = [int(rows["t_ms"][-1]) + 1 for rows in self._held.values() if len(rows)]
        start = self.until_ms
        self.until_ms = max([start, *last])
        return self._chunk(start, {})

    def maybe_ms(self, tick: int) -> int | None:
        """The record's time of a moment by the board's clock; None before the first block. [ms]"""
        return None if self._boot is None else int(self._unwrapped(np.array([tick]))[0])

    def _run(self, run: Sequence[Header]) -> dict[str, np.ndarray]:
        first = run[0]
        gaps = self._joint(first)
        slots = first.slots if len(run) == 1 else np.concatenate([head.slots for head in run])
        last = run[-1]
        self._seq = (last.seq + len(last.slots)) & 0xFFFFFFFF
        self.lost = last.lost
        if not len(slots):
            return {"gaps": gaps}
        found = self._slots(slots, first)
        if len(gaps):
            found["gaps"] = np.concatenate((gaps, found.get("gaps", np.empty(0, GAP))))
        return found

    def _joint(self, head: Header) -> np.ndarray:
        """Fit a run to what came before it; a row for what is missing between."""
        if self._boot is None:
            self._tick, self._tick_ms = head.tick, 0
            self._boot = head.boot_id
            return np.empty(0, GAP)
        missing = (head.seq - self._seq) & 0xFFFFFFFF
        if head.boot_id != self._boot or missing >> 31:
            # Restarted, or its numbers went back, which only a new start can do under the same id:
            # its clock begins anew; by ours it goes on where we were.
            self._boot = head.boot_id
            self._tick, self._tick_ms = head.tick, self.until_ms
            return np.array([(self.until_ms, self.until_ms, head.seq)], GAP)
        if head.seq != self._seq:
            here = int(self._unwrapped(np.array([head.tick]))[0])
            since, self.until_ms = self.until_ms, max(here, self.until_ms)
            return np.array([(since, self.until_ms, missing)], GAP)
        return np.empty(0, GAP)

    def _unwrapped(self, ticks: np.ndarray) -> np.ndarray:
        half = WRAP >> 1
        return self._tick_ms + ((ticks.astype("i8") - self._tick + half) & (WRAP - 1)) - half

    def _slots(self, slots: np.ndarray, head: Header) -> dict[str, np.ndarray]:
        word = slots[:, 0]
        is_sample = word < 0x8000
        is_event = word >> 14 == 2
        kinds = np.where(is_event, word >> 8 & 0x3F, 255)
        ticks = slots[:, 1].astype("i8") | slots[:, 2].astype("i8") << 16
        spans = np.where(is_sample, word >> 3 & 127, 0).astype("i8") * head.scale.bucket_ms
        ends = np.cumsum(spans)
        # Base of each slot: the header's time, or that of the last TIME slot before it.
        base_ms = self._unwrapped(np.array([head.tick]))[0]
        marks = np.flatnonzero(kinds == records.TIME)
        bases = np.concatenate(([base_ms], self._unwrapped(ticks[marks]) - ends[marks]))
        starts = bases[np.searchsorted(marks, np.arange(len(slots)), "right")] + ends - spans
        times = self._unwrapped(ticks)
        values = values_of(slots)
        found = events_of(word, kinds, times, values)
        if is_sample.any():
            at = np.flatnonzero(is_sample)
            found["samples"] = samples_of(slots, at, starts[at], spans[at], head.scale)
            self._holes(found, kinds, times, values)
        # The reference moves on, so that ticks stay within half a wrap of it.
        if is_event.any():
            self._tick_ms = int(times[is_event][-1])
        elif is_sample.any():
            self._tick_ms = int(starts[is_sample][-1])
        self._tick = (head.tick + self._tick_ms - int(base_ms)) & (WRAP - 1)
        return found

    def _holes(self, found, kinds, times, values) -> None:
        """Rows for holes between samples: what the board counted, and what it did not."""
        rows = found["samples"]
        ends = rows["t_ms"] + rows["span_ms"]
        before = np.concatenate(([self.until_ms], ends[:-1]))
        hole = rows["t_ms"] - before > HOLE_MS
        gaps = np.zeros(int(hole.sum()), GAP)
        gaps["t_ms"], gaps["until_ms"] = before[hole], rows["t_ms"][hole]
        told = np.flatnonzero(kinds == records.GAP)
        for when, lost in zip(times[told], values[told], strict=True):
            at = np.flatnonzero(gaps["until_ms"] == when)
            if len(at):
                gaps["lost"][at[0]] = lost
            else:
                gaps = np.concatenate((gaps, np.array([(when, when, lost)], GAP)))
        if len(gaps):
            found["gaps"] = gaps
        self.until_ms = int(ends[-1])

    def _chunk(self, start_ms: int, parts: dict[str, list[np.ndarray]]) -> Chunk:
        chunk = Chunk(start_ms, self.until_ms)
        for name in ("samples", "gaps"):
            if name in parts:
                setattr(chunk, name, np.concatenate(parts[name]))
        for name in EVENT_NAMES:
            held = self._held.pop(name, None)
            rows = ([] if held is None else [held]) + parts.get(name, [])
            if not rows:
                continue
            joined = rows[0] if len(rows) == 1 else np.concatenate(rows)
            joined = joined[np.argsort(joined["t_ms"], kind="stable")]
            cut = int(np.searchsorted(joined["t_ms"], self.until_ms))
            setattr(chunk, name, joined[:cut])
            if cut < len(joined):
                self._held[name] = joined[cut:]
        return chunk
