"""From the board's blocks of raw record to arrays in volts and ohms; the inverse of the ring.

The board sends 8-byte slots (layout: ``locum_board/records.py``). A sample begins where the one
before it ended; TIME slots and the block's header say where that is. Here ticks are unwrapped,
counts become 0.1 mV and milliohm, and events are held back until the samples have reached their
time, so that a chunk ``[start_ms, end_ms)`` is complete. The result does not depend on how the
record was cut into blocks.
"""

from __future__ import annotations

import binascii
import struct
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from locum.errors import LinkTrouble, Remark
from locum.review.chunk import (
    AUX,
    DUTY,
    EDGE,
    GAP,
    MARK,
    MOVE,
    OPEN_MILLIOHM,
    SAMPLE,
    STATE,
    Chunk,
)
from locum_board import records
from locum_board.sampling import OPEN_16

WRAP = 1 << 30
HOLE_MS = 20
"""A step in time between samples beyond this is told as a gap, though no record was counted lost."""


@dataclass(frozen=True)
class Scale:
    """What a block's header says about its counts."""

    bucket_ms: int
    node_full_0v1mv: int
    range_milliohm: tuple[int, int, int]
    ohm_offset16: int


@dataclass(frozen=True)
class Header:
    """A block's header and its slots as ``uint16[n, 4]``."""

    scale: Scale
    boot_id: int
    seq: int
    tick: int
    lost: int
    slots: np.ndarray


def read_block(block: bytes) -> Header:
    """Header and slots of one block. Raises LinkTrouble if it is damaged or of another format."""
    if len(block) < records.HEADER_BYTES + 4 or block[:2] != b"LR":
        raise _damaged("something else", "connect again")
    if block[2] != records.FORMAT:
        raise _damaged(f"format {block[2]}", "update this program")
    (crc,) = struct.unpack_from("<I", block, len(block) - 4)
    (_, _, bucket, boot, seq, tick, lost, full, *ranges, count, offset) = struct.unpack_from(
        records.HEADER, block
    )
    size = records.HEADER_BYTES + count * records.SLOT_BYTES + 4
    if size != len(block) or binascii.crc32(memoryview(block)[:-4]) != crc:
        raise _damaged("a block whose check sum is wrong", "connect again")
    slots = np.frombuffer(block, "<u2", count * 4, records.HEADER_BYTES).reshape(count, 4)
    scale = Scale(bucket, full, (ranges[0], ranges[1], ranges[2]), offset)
    return Header(scale, boot, seq, tick, lost, slots)


def _damaged(found: str, remedy: str) -> LinkTrouble:
    return LinkTrouble(Remark("damaged_record", "board record", "a block of record", found, remedy))


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
        for run in _runs([read_block(block) for block in blocks]):
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
        values = _values(slots)
        found = _events(word, kinds, times, values)
        if is_sample.any():
            at = np.flatnonzero(is_sample)
            found["samples"] = _samples(slots, at, starts[at], spans[at], head.scale)
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
        for name in _EVENT_NAMES:
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


def _runs(heads: list[Header]) -> list[list[Header]]:
    """Blocks in a row that belong together: same boot, same scale, no slot missing between."""
    runs: list[list[Header]] = []
    for head in heads:
        if runs:
            last = runs[-1][-1]
            follows = last.seq + len(last.slots) == head.seq
            if follows and last.boot_id == head.boot_id and last.scale == head.scale:
                runs[-1].append(head)
                continue
        runs.append([head])
    return runs


def _values(slots: np.ndarray) -> np.ndarray:
    """Each slot's value: word 3, or what its continuation says. int64[n]"""
    values = slots[:, 3].astype("i8")
    more = np.flatnonzero(slots[1:, 0] >> 14 == 3)
    wide = slots[more + 1].astype("i8")
    whole = wide[:, 1] | wide[:, 2] << 16
    values[more] = np.where(whole >= 1 << 31, whole - (1 << 32), whole)
    return values


def _events(word, kinds, times, values) -> dict[str, np.ndarray]:
    found = {}
    for name, kind, dtype, fill in _EVENTS:
        at = np.flatnonzero(kinds == kind)
        if not len(at):
            continue
        rows = np.empty(len(at), dtype)
        rows["t_ms"] = times[at]
        fill(rows, word[at] & 0xFF, values[at])
        found[name] = rows
    return found


def _edge(rows, sub, value) -> None:
    rows["line"], rows["level"] = sub >> 1, sub & 1


def _duty(rows, sub, value) -> None:
    rows["line"], rows["permille"] = sub, value


def _mark(rows, sub, value) -> None:
    rows["kind"], rows["ago_ms"] = sub, value


def _move(rows, sub, value) -> None:
    rows["kind"], rows["value"] = sub, np.where(value == 0xFFFF, 0, value * 5)


def _state(rows, sub, value) -> None:
    rows["state"], rows["cause"] = sub, value


def _aux(rows, sub, value) -> None:
    rows["channel"], rows["value"] = sub, value


_EVENTS = (
    ("edges", records.EDGE, EDGE, _edge),
    ("duties", records.DUTY, DUTY, _duty),
    ("marks", records.MARK, MARK, _mark),
    ("moves", records.MOVE, MOVE, _move),
    ("states", records.STATE, STATE, _state),
    ("aux", records.AUX, AUX, _aux),
)
_EVENT_NAMES = tuple(name for name, *_ in _EVENTS)


def _samples(slots: np.ndarray, at: np.ndarray, starts, spans, scale: Scale) -> np.ndarray:
    """Samples in physical units; ``at``: indices of the samples' first slots in ``slots``."""
    words = slots[at].astype("i8")
    word = words[:, 0]
    rows = np.empty(len(at), SAMPLE)
    rows["t_ms"], rows["span_ms"] = starts, spans
    rows["count"] = (spans // scale.bucket_ms) * np.array(records.PER)[word & 7]
    rows["source"] = word >> 12 & 3
    full = scale.node_full_0v1mv
    node16, ohm16 = words[:, 1], words[:, 2]
    spread = words[:, 3]
    low, high = (node16 >> 4) - (spread >> 12), (node16 >> 4) + (spread >> 8 & 15)
    olow, ohigh = (ohm16 >> 4) - (spread >> 4 & 15), (ohm16 >> 4) + (spread & 15)
    lively = np.flatnonzero(word & 0x4000)
    if len(lively):
        more = slots[at[lively] + 1].astype("i8")
        low[lively], high[lively] = spread[lively], more[:, 1]
        olow[lively], ohigh[lively] = more[:, 2], more[:, 3]
    rows["node_mean"] = (node16 * full + 32768) >> 16
    rows["node_min"] = (low * full + 2048) >> 12
    rows["node_max"] = (high * full + 2048) >> 12
    _ohms(rows, word >> 10 & 3, (olow * 16, ohm16, ohigh * 16), scale)
    return rows


def _ohms(rows: np.ndarray, number: np.ndarray, sixteenths, scale: Scale) -> None:
    """Ohmmeter counts to milliohm with the reference of each sample's range."""
    if np.all(number == records.RANGE_OFF):
        rows["ohm_min"] = rows["ohm_mean"] = rows["ohm_max"] = -1
        return
    reference = np.array([*scale.range_milliohm, 0], float)[number]
    for name, value16 in zip(("ohm_min", "ohm_mean", "ohm_max"), sixteenths, strict=True):
        x = np.clip(value16 - scale.ohm_offset16, 0, OPEN_16) / 65536.0
        ohm = np.minimum(reference * x / (1.0 - x), OPEN_MILLIOHM)
        ohm[value16 >= OPEN_16] = OPEN_MILLIOHM
        ohm[number == records.RANGE_OFF] = -1
        rows[name] = np.rint(ohm)
