"""A board's blocks of raw record: header, counts' scale, checksum, and which of them follow on.

Layout: ``locum_board/records.py``.
"""

from __future__ import annotations

import binascii
import struct
from dataclasses import dataclass

import numpy as np

from locum.errors import LinkTrouble, Remark
from locum_board import records


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


def runs_of(heads: list[Header]) -> list[list[Header]]:
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
