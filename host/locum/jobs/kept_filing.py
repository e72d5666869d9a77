"""What a board kept, filed as a recording of its own that says which one it continues.

The sheets are those of the recording before, the stretches come from the record itself, and what is
missing between the two is counted.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise

from locum.casebook.records import Drive
from locum.casebook.store import Store
from locum.errors import LocumError, Remark
from locum.jobs.connection import Connection
from locum.jobs.context import review_context
from locum.jobs.jsontext import Result
from locum.jobs.kept_circuit import circuit_of_drive
from locum.jobs.review_kept import REVIEW_VERSION, stored_review
from locum.link.answers import Status
from locum.recording.blocks import Header, read_block
from locum.recording.decode import Decoder
from locum.review import stream
from locum.review.chunk import Chunk
from locum_board import records, states


@dataclass
class Kept(Result):
    """What was fetched."""

    drive: str
    continues: str
    """The recording that the board went on with by itself."""
    seconds: float
    lost: int
    """Records that did not fit into the board's memory, by its own count."""
    state: str
    """What the board is doing now."""
    kick_outs: int = 0
    glitches: int = 0
    board: str = ""
    warnings: list[Remark] = field(default_factory=list)


def filed(
    store: Store,
    link: Connection,
    drive: Drive,
    blocks: list[bytes],
    before: Header | None,
    status: Status,
    heard: tuple[datetime, int],
    how: str,
) -> Kept:
    """``heard``: UTC of the status, and the round trip that brought it [ms]; ``how`` it ends."""
    utc, round_trip_ms = heard
    decoder = Decoder()
    chunk = decoder.feed_many(blocks)
    heard_ms = decoder.maybe_ms(status.t_ms) or chunk.end_ms
    sheets = {sheet.role: (sheet.name, sheet.text) for sheet in drive.sheets}
    began = utc - timedelta(milliseconds=heard_ms)
    if drive.ended_utc is None:
        store.end_drive(drive.id, "left")
    settings = {"continues": drive.id, "command": "drive fetch"}
    drive_id = store.begin_drive(drive.kind, drive.case_id, drive.board, sheets, settings, began)
    clock = [(heard_ms, int(utc.timestamp() * 1000), round_trip_ms)]
    store.append(drive_id, blocks, clock, _gaps(blocks, chunk, before, heard_ms), full=True)
    _stretches(store, drive, drive_id, chunk)
    chunks = (chunk, decoder.finish())
    store.end_drive(drive_id, how, chunk.end_ms)
    return _told(store, link, drive, drive_id, chunks, status)


def _told(
    store: Store, link: Connection, drive: Drive, drive_id: str, chunks, status: Status
) -> Kept:
    gaps = store.drive(drive_id).gaps
    kept = Kept(
        drive_id, drive.id, chunks[0].end_ms / 1000, sum(gap.lost for gap in gaps), status.state,
        board=link.identity.serial, warnings=_warnings(status, gaps),
    )  # fmt: skip
    try:
        circuit = circuit_of_drive(store, drive_id)
        found = stream.review(review_context(circuit), chunks)
    except (
        LocumError
    ) as trouble:  # the record is safe; it can be looked at when its sheets are well
        kept.warnings += trouble.remarks
        return kept
    store.add_review(drive_id, REVIEW_VERSION, stored_review(found, circuit.case_rule))
    kept.kick_outs = len(found.kick_outs)
    kept.glitches = sum(not glitch.ours for glitch in found.glitches)
    return kept


def last_head(store: Store, drive: Drive) -> Header | None:
    """Of the last block that the board handed over for a recording."""
    last = None
    for block in store.blocks(drive.id):
        last = block
    return None if last is None else read_block(last)


def end_seq(head: Header) -> int:
    return head.seq + len(head.slots)


def _gaps(
    blocks: list[bytes], chunk: Chunk, before: Header | None, heard_ms: int
) -> list[tuple[int, int, int, str]]:
    """What is missing: between the two recordings, and where the board's memory was full."""
    rows = [(int(t), int(until), int(lost), "overrun") for t, until, lost in chunk.gaps]
    if before is not None:
        missing = read_block(blocks[0]).seq - end_seq(before)
        dropped = read_block(blocks[-1]).lost - before.lost - sum(row[2] for row in rows)
        if missing:
            rows.insert(0, (0, 0, missing, "under way when the link broke"))
        if dropped > 0:
            rows.append((chunk.end_ms, heard_ms, dropped, "the board's memory was full"))
    return rows


def _stretches(store: Store, drive: Drive, drive_id: str, chunk: Chunk) -> None:
    """What was connected, by the record: the relay's state, and whether it followed."""
    was = drive.stretches[-1] if drive.stretches else None
    connected, foot = (was.connected, was.foot) if was else ("real", "normal")
    rows = [(0, connected)]
    following = set(chunk.moves["t_ms"][chunk.moves["kind"] == records.MOVE_FOLLOW].tolist())
    for t_ms, state in zip(chunk.states["t_ms"], chunk.states["state"], strict=True):
        away = state in (states.HOLDING, states.RUNNING)
        if away:
            kind = "follow" if int(t_ms) in following else connected
            rows.append((int(t_ms), kind if kind != "real" else "stand_in"))
        else:
            rows.append((int(t_ms), "real"))
    changes = [rows[0]] + [now for before, now in pairwise(rows) if now[1] != before[1]]
    for t_ms, kind in changes:
        store.begin_stretch(
            drive_id, t_ms, kind, foot, was.plan if was and kind != "real" else None
        )


def _warnings(status: Status, gaps) -> list[Remark]:
    out = []
    lost = sum(gap.lost for gap in gaps)
    if lost:
        out.append(
            Remark("record_lost", "board", "room for everything it sampled",
                   f"{lost} records that did not fit or were under way when the link broke",
                   "nothing: what is missing is counted and never made up")
        )  # fmt: skip
    if status.state in ("holding", "running", "returning"):
        out.append(
            Remark("still_running", "board", "a board at rest", f"one that is {status.state}",
                   "fetch again when it has come home")
        )  # fmt: skip
    return out
