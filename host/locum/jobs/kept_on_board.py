"""What a board kept while no computer was there: fetched later into the casebook.

A plan with ``on_silence = "finish"`` runs on from a power bank when the laptop is shut. Samples and
marks stay on the board until somebody fetches them. Recordings are never continued once closed, so
what is fetched becomes a recording of its own (``kept_filing.py``). ``locum drive fetch`` does it when
asked, and every new recording does it by itself before it clears the board's memory.
"""

from __future__ import annotations

from locum.casebook.records import Drive
from locum.casebook.store import Store
from locum.errors import LinkTrouble, Refused, Remark
from locum.jobs.connection import Connection
from locum.jobs.kept_filing import Kept, end_seq, filed, last_head
from locum.link.adopt import AWAY
from locum.link.answers import Status
from locum.recording.blocks import read_block

__all__ = ["Kept", "fetch", "maybe_left", "rescue", "take_over"]

OPEN_ENDS = (None, "left", "link_lost")
"""How a recording ended after which a board may still have something for it."""


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
    """Before a new recording clears the board's memory: keep what belongs to an earlier one.

    None if there is nothing of that kind. Raises LinkTrouble if the board is lost on the way; what it
    had handed over is filed by then.
    """
    if link.virtual:
        return None
    drive = maybe_left(store, link)
    return None if drive is None else _maybe_taken(store, link, drive)


def take_over(store: Store, link: Connection, drive: Drive) -> Kept:
    """Drain the board into a new recording that continues ``drive``; Refused if nothing is there."""
    kept = _maybe_taken(store, link, drive)
    if kept is None:
        raise Refused(_nothing_for(link, drive))
    return kept


def _maybe_taken(store: Store, link: Connection, drive: Drive) -> Kept | None:
    """What :func:`take_over` did, or None if the board keeps nothing that goes on from ``drive``."""
    status = link.board.fetch()
    utc, round_trip_ms = link.clock.utc(), link.board.round_trip_ms
    blocks, trouble = _drained(link)
    before = last_head(store, drive)
    kept = None
    if blocks and (before is None or read_block(blocks[0]).seq >= end_seq(before)):
        how = _ending(status) if trouble is None else "link_lost"
        heard = (utc, round_trip_ms)
        kept = filed(store, link, drive, blocks, before, status, heard, how)
    if trouble is not None:
        raise trouble
    return kept


def _drained(link: Connection) -> tuple[list[bytes], LinkTrouble | None]:
    """All that waits on the board; where the link is lost on the way, what came until then."""
    blocks: list[bytes] = []
    try:
        count = -1
        while len(blocks) > count:
            count = len(blocks)
            link.board.drain(blocks)
    except LinkTrouble as trouble:
        return blocks, trouble
    return blocks, None


def _ending(status: Status) -> str:
    """``left`` if the board runs on and will have more, else ``fetched``."""
    return "left" if status.state in (*AWAY, "returning") else "fetched"


def _same_boot(drive: Drive, link: Connection) -> bool:
    board, identity = drive.board, link.identity
    return board.get("serial") == identity.serial and board.get("boot_id") == identity.boot_id


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
