"""The stored record of a drive as chunks, with what was added to it by hand or by another logger."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from locum.casebook.kept_logs import logs_of_drive, slow_rows
from locum.casebook.store import Store
from locum.recording.decode import Decoder
from locum.review.chunk import AUX_SPEED, AUX_THROTTLE, MARK, Chunk

BLOCKS_AT_ONCE = 500
"""About ten minutes of record: quick to decode, flat in memory."""


def batched(items: Iterable[Any], size: int) -> Iterator[list[Any]]:
    """Lists of at most ``size`` items, in order."""
    row: list = []
    for item in items:
        row.append(item)
        if len(row) == size:
            yield row
            row = []
    if row:
        yield row


def decoded(blocks: Iterable[bytes]) -> Iterator[Chunk]:
    """Raw blocks as chunks, to the last record: what a decoder holds back at the end as well."""
    decoder = Decoder()
    for some in batched(blocks, BLOCKS_AT_ONCE):
        yield decoder.feed_many(some)
    yield decoder.finish()


def chunks_of(store: Store, drive_id: str) -> Iterator[Chunk]:
    """The stored record of a drive as chunks, in order."""
    return decoded(store.blocks(drive_id))


def with_marks(chunks: Iterable[Chunk], marks: list[tuple[int, int, int]]) -> Iterator[Chunk]:
    """Marks made by key, put into the chunks they belong to, as the live review saw them."""
    waiting = sorted(marks)
    for chunk in chunks:
        due = [m for m in waiting if m[0] < chunk.end_ms]
        if due:
            waiting = waiting[len(due) :]
            rows = np.concatenate((chunk.marks, np.array(due, MARK)))
            rows["t_ms"] = np.maximum(rows["t_ms"], chunk.start_ms)
            chunk = replace(chunk, marks=np.sort(rows, order="t_ms"))
        yield chunk


def with_slow_rows(chunks: Iterable[Chunk], rows: np.ndarray) -> Iterator[Chunk]:
    """Rows of another logger beside ours; those after the record's end are left out."""
    rows = np.sort(rows, order="t_ms")
    for chunk in chunks:
        low, high = np.searchsorted(rows["t_ms"], (chunk.start_ms, chunk.end_ms))
        if high > low:
            both = np.concatenate((chunk.aux, rows[low:high]))
            chunk = replace(chunk, aux=np.sort(both, order="t_ms", kind="stable"))
        yield chunk


def foreign_rows(store: Store, drive_id: str, throttle_wired: bool) -> np.ndarray:
    """Speed, and the throttle where ours is not wired, of the logs kept with a drive."""
    wanted = (AUX_SPEED,) if throttle_wired else (AUX_SPEED, AUX_THROTTLE)
    return slow_rows(logs_of_drive(store, drive_id), wanted)
