"""What a board kept while no computer was there: fetched later into the casebook.

A plan with ``on_silence = "finish"`` runs on from a power bank when the laptop is shut. Samples and
marks stay on the board until somebody fetches them. Recordings are never continued once closed, so
what is fetched becomes a recording of its own that says which one it continues; the sheets are the
same, the stretches come from the record itself. ``locum drive fetch`` does it when asked, and every
new recording does it by itself before it clears the board's memory.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from itertools import pairwise

from locum.casebook.records import Drive
from locum.casebook.store import Store
from locum.errors import Refused, Remark
from locum.jobs.connection import Connection
from locum.jobs.context import review_context
from locum.jobs.jsontext import Result
from locum.jobs.kept_circuit import circuit_of_drive
from locum.jobs.review_kept import REVIEW_VERSION, stored_review
from locum.link.adopt import AWAY
from locum.link.answers import Status
from locum.recording.blocks import Header, read_block
from locum.recording.decode import Decoder
from locum.review import stream
from locum.review.chunk import Chunk
from locum_board import records, states

OPEN_ENDS = (None, "left", "link_lost")
"""How a recording ended after which a board may still have something for it."""


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


def fetch(id: str | None = None, board: str | None = None, casebook: str | None = None) -> Kept:
    """``locum drive fetch``: take over what the board kept for its last recording, or for ``id``.

    Raises Refused if the board has started anew since, or keeps nothing for any recording.
    """
    from locum.jobs.cases import open_casebook
    from locum.jobs.circuit import open_circuit
    from locum.jobs.connection import connected

    with open_casebook(casebook) as store:
        named = store.drive(store.drive_id_from(id)) if id else None
        sheet = open_circuit(None, None, None, None, {}).board
        with connected(board, sheet) as link:
            drive = named or maybe_left(store, link)
            if drive is None:
                raise Refused(_nothing_for(link))
            if not _same_boot(drive, link):
                raise Refused(_started_anew(drive, link))
            return take_over(store, link, drive)


def maybe_left(store: Store, link: Connection) -> Drive | None:
    """The recording this very board (same serial number, same boot) went on with by itself."""
    mine = [d for d in store.drives() if _same_boot(d, link)]
    return mine[-1] if mine and mine[-1].how in OPEN_ENDS else None


def rescue(store: Store, link: Connection) -> Kept | None:
    """Before a new recording clears the board's memory: keep what belongs to an earlier one."""
    if link.virtual:
        return None
    drive = maybe_left(store, link)
    return None if drive is None else take_over(store, link, drive)


def take_over(store: Store, link: Connection, drive: Drive) -> Kept:
    """Drain the board into a new recording that continues ``drive``."""
    status = link.board.fetch()
    utc = link.clock.utc()
    blocks: list[bytes] = []
    while more := link.board.drain():
        blocks += more
    before = _last_head(store, drive)
    if not blocks or (before is not None and read_block(blocks[0]).seq < _end_seq(before)):
        raise Refused(_nothing_for(link, drive))
    decoder = Decoder()
    chunk = decoder.feed_many(blocks)
    heard_ms = decoder.maybe_ms(status.t_ms) or chunk.end_ms
    sheets = {sheet.role: (sheet.name, sheet.text) for sheet in drive.sheets}
    began = utc - timedelta(milliseconds=heard_ms)
    if drive.ended_utc is None:
        store.end_drive(drive.id, "left")
    settings = {"continues": drive.id, "command": "drive fetch"}
    drive_id = store.begin_drive(drive.kind, drive.case_id, drive.board, sheets, settings, began)
    clock = [(heard_ms, int(utc.timestamp() * 1000), link.board.round_trip_ms)]
    store.append(drive_id, blocks, clock, _gaps(blocks, chunk, before, heard_ms), full=True)
    _stretches(store, drive, drive_id, chunk)
    return _closed(store, link, drive, drive_id, (chunk, decoder.finish()), status)


def _closed(
    store: Store, link: Connection, drive: Drive, drive_id: str, chunks, status: Status
) -> Kept:
    circuit = circuit_of_drive(store, drive_id)
    found = stream.review(review_context(circuit), chunks)
    runs = status.state in (*AWAY, "returning")
    store.end_drive(drive_id, "left" if runs else "fetched", chunks[0].end_ms)
    store.add_review(drive_id, REVIEW_VERSION, stored_review(found, circuit.case_rule))
    gaps = store.drive(drive_id).gaps
    return Kept(
        drive_id, drive.id, chunks[0].end_ms / 1000, sum(gap.lost for gap in gaps), status.state,
        len(found.kick_outs), sum(not g.ours for g in found.glitches), link.identity.serial,
        _warnings(status, gaps),
    )  # fmt: skip


def _same_boot(drive: Drive, link: Connection) -> bool:
    board, identity = drive.board, link.identity
    return board.get("serial") == identity.serial and board.get("boot_id") == identity.boot_id


def _last_head(store: Store, drive: Drive) -> Header | None:
    """Of the last block that the board handed over for a recording."""
    last = None
    for block in store.blocks(drive.id):
        last = block
    return None if last is None else read_block(last)


def _end_seq(head: Header) -> int:
    return head.seq + len(head.slots)


def _gaps(
    blocks: list[bytes], chunk: Chunk, before: Header | None, heard_ms: int
) -> list[tuple[int, int, int, str]]:
    """What is missing: between the two recordings, and where the board's memory was full."""
    rows = [(int(t), int(until), int(lost), "overrun") for t, until, lost in chunk.gaps]
    if before is not None:
        missing = read_block(blocks[0]).seq - _end_seq(before)
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


def _nothing_for(link: Connection, drive: Drive | None = None) -> Remark:
    whose = f"recording {drive.id}" if drive else "a recording of this casebook"
    return Remark(
        "nothing_kept", link.where, f"record kept for {whose}",
        f"none on board {link.identity.serial}",
        "name the casebook it was begun in: --casebook FILE; what was fetched once is not kept",
    )  # fmt: skip


def _started_anew(drive: Drive, link: Connection) -> Remark:
    same = drive.board.get("serial") == link.identity.serial
    found = "one that has started anew since" if same else f"board {link.identity.serial}"
    return Remark(
        "board_restarted", link.where,
        f"board {drive.board.get('serial')} as it ran for recording {drive.id}", found,
        "what it had kept is lost" if same else "plug in the board of that recording",
    )  # fmt: skip
