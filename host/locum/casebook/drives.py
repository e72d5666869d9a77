"""Drives as they are written: raw blocks verbatim and in order, and everything noted meanwhile."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from locum.casebook import jsontext
from locum.casebook.content import put_content
from locum.casebook.drive_reading import DriveReading
from locum.casebook.shelf import body_and_crc, no_such, utc_text
from locum.errors import Misuse, Refused, Remark


class DriveShelf(DriveReading):
    """Owns ``drive``, ``block``, ``clock``, ``stretch``, ``mark``, ``answer``, ``gap``, ``review``."""

    def begin_drive(
        self,
        kind: str,
        case_id: str | None = None,
        board: dict[str, Any] | None = None,
        sheets: dict[str, tuple[str, str]] | None = None,
        settings: dict[str, Any] | None = None,
        started_utc: str | datetime | None = None,
    ) -> str:
        """Open a drive and return its id; on disk before this returns.

        Without ``case_id`` it is unfiled and can be filed later. ``sheets`` maps a role to
        ``(name, text)``; texts are copied verbatim.
        """
        drive_id = self.ids.new()
        begun = utc_text(started_utc) if isinstance(started_utc, datetime) else started_utc
        board_text, settings_text = jsontext.written(board or {}), jsontext.written(settings or {})
        crc = jsontext.crc(board_text + settings_text)
        with self.db.transaction() as connection:
            if case_id is not None:
                self._need_case(case_id)
            connection.execute(
                "INSERT INTO drive VALUES (?, ?, ?, ?, NULL, NULL, ?, ?, ?)",
                (drive_id, kind, case_id, begun or self.utc(), board_text, settings_text, crc),
            )
            for role, (name, text) in (sheets or {}).items():
                self._put_drive_sheet(connection, drive_id, role, name, text)
        return drive_id

    def add_drive_sheet(self, drive_id: str, role: str, name: str, text: str) -> str:
        """Copy one more sheet verbatim to a drive (a plan made under way); its SHA-256."""
        with self.db.transaction() as connection:
            self._need_drive(drive_id)
            return self._put_drive_sheet(connection, drive_id, role, name, text)

    def _put_drive_sheet(self, connection, drive_id: str, role: str, name: str, text: str) -> str:
        sha256 = put_content(connection, text.encode("utf-8"))
        connection.execute(
            "INSERT OR IGNORE INTO drive_sheet VALUES (?, ?, ?, ?, ?)",
            (drive_id, role, name, sha256, self.utc()),
        )
        return sha256

    def append(
        self,
        drive_id: str,
        blocks: Sequence[bytes],
        clock: Sequence[tuple[int, int, float]] = (),
        gaps: Sequence[tuple[int, int, int, str]] = (),
        *,
        full: bool = False,
    ) -> int:
        """Add raw blocks, clock readings ``(board_ms, utc_ms, round_trip_ms)`` and gaps
        ``(t_ms, until_ms, lost, why)`` in one transaction; how many blocks the drive now has.

        ``full`` also waits for the disk, so that a power cut cannot take them.
        """
        with self.db.transaction(full=full) as connection:
            _need_open(connection, drive_id)
            first = _next_seq(connection, "block", drive_id)
            connection.executemany(
                "INSERT INTO block VALUES (?, ?, ?, ?)",
                [
                    (drive_id, seq, bytes(block), zlib.crc32(block))
                    for seq, block in enumerate(blocks, start=first)
                ],
            )
            tick = _next_seq(connection, "clock", drive_id)
            connection.executemany(
                "INSERT INTO clock VALUES (?, ?, ?, ?, ?)",
                [
                    (drive_id, seq, int(board_ms), int(utc_ms), float(round_trip_ms))
                    for seq, (board_ms, utc_ms, round_trip_ms) in enumerate(clock, start=tick)
                ],
            )
            connection.executemany(
                "INSERT INTO gap VALUES (?, ?, ?, ?, ?, ?)",
                [(self.ids.new(), drive_id, *gap) for gap in gaps],
            )
        return first + len(blocks)

    def add_gap(
        self, drive_id: str, t_ms: int, until_ms: int, lost: int = 0, why: str = ""
    ) -> None:
        """Note that record is missing between two board times."""
        with self.db.transaction(full=False) as connection:
            self._need_drive(drive_id)
            connection.execute(
                "INSERT INTO gap VALUES (?, ?, ?, ?, ?, ?)",
                (self.ids.new(), drive_id, int(t_ms), int(until_ms), int(lost), why),
            )

    def begin_stretch(
        self,
        drive_id: str,
        t_ms: int,
        connected: str,
        foot: str = "normal",
        plan: dict[str, Any] | None = None,
    ) -> int:
        """Begin a stretch and end the one before, if open; its number, from 0."""
        with self.db.transaction() as connection:
            self._need_drive(drive_id)
            number = _next_seq(connection, "stretch", drive_id, "number")
            self._end_open_stretch(connection, drive_id, t_ms)
            connection.execute(
                "INSERT INTO stretch VALUES (?, ?, ?, NULL, ?, ?, ?)",
                (
                    drive_id,
                    number,
                    int(t_ms),
                    connected,
                    foot,
                    None if plan is None else jsontext.written(plan),
                ),
            )
        return number

    def end_stretch(self, drive_id: str, t_ms: int) -> None:
        """End the open stretch; nothing happens if none is open."""
        with self.db.transaction() as connection:
            self._need_drive(drive_id)
            self._end_open_stretch(connection, drive_id, t_ms)

    def _end_open_stretch(self, connection, drive_id: str, t_ms: int) -> None:
        connection.execute(
            "UPDATE stretch SET end_ms = max(start_ms, ?) WHERE drive_id = ? AND end_ms IS NULL",
            (int(t_ms), drive_id),
        )

    def add_mark(self, drive_id: str, t_ms: int, kind: str, ago_ms: int = 0, note: str = "") -> str:
        """Something the driver or helper noticed; ``ago_ms`` says how late it was pressed."""
        mark_id = self.ids.new()
        with self.db.transaction() as connection:
            self._need_drive(drive_id)
            connection.execute(
                "INSERT INTO mark VALUES (?, ?, ?, ?, ?, ?, ?)",
                (mark_id, drive_id, int(t_ms), kind, int(ago_ms), jsontext.clean(note), self.utc()),
            )
        return mark_id

    def answer(self, drive_id: str, stretch: int, felt: bool) -> None:
        """The helper's answer to "anything felt?"; a later one counts, the earlier stays."""
        with self.db.transaction() as connection:
            if not connection.execute(
                "SELECT 1 FROM stretch WHERE drive_id = ? AND number = ?", (drive_id, stretch)
            ).fetchone():
                raise Misuse(
                    Remark(
                        "no_such_stretch",
                        drive_id,
                        f"stretch {stretch} of this drive",
                        "none of that number",
                        "begin the stretch first",
                    )
                )
            connection.execute(
                "INSERT INTO answer VALUES (?, ?, ?, ?, ?)",
                (self.ids.new(), drive_id, stretch, int(felt), self.utc()),
            )

    def end_drive(self, drive_id: str, how: str = "done", t_ms: int | None = None) -> None:
        """Close a drive, and its open stretch at ``t_ms`` if given; a drive is ended once only."""
        with self.db.transaction() as connection:
            self._need_drive(drive_id)
            if t_ms is not None:
                self._end_open_stretch(connection, drive_id, t_ms)
            connection.execute(
                "UPDATE drive SET ended_utc = ?, how = ? WHERE id = ? AND ended_utc IS NULL",
                (self.utc(), how, drive_id),
            )
            case = connection.execute("SELECT case_id FROM drive WHERE id = ?", (drive_id,))
            case_id = case.fetchone()[0]
            if case_id is not None:
                self.words_changed(case_id)  # notes made on the road are words of the case

    def file_drive(self, drive_id: str, case_id: str, *, author: str = "") -> None:
        """File an unfiled drive under a case; moving a filed one is refused."""
        with self.db.transaction() as connection:
            self._need_case(case_id)
            self._need_drive(drive_id)
            row = connection.execute("SELECT case_id FROM drive WHERE id = ?", (drive_id,))
            filed = row.fetchone()[0]
            if filed == case_id:
                return
            if filed is not None:
                raise Refused(
                    Remark(
                        "drive_filed",
                        drive_id,
                        "an unfiled drive",
                        f"it is filed under case {filed}",
                        "a drive stays where its evidence was used; note the other case there",
                    )
                )
            connection.execute("UPDATE drive SET case_id = ? WHERE id = ?", (case_id, drive_id))
            text, crc = body_and_crc({"drive": drive_id})
            connection.execute(
                "INSERT INTO finding VALUES (?, ?, 'filed', ?, ?, ?, ?)",
                (self.ids.new(), case_id, self.utc(), jsontext.clean(author), text, crc),
            )
            self.words_changed(case_id)

    def add_review(self, drive_id: str, version: str, result: dict[str, Any]) -> str:
        """Keep what review made of a drive; earlier results stay."""
        review_id = self.ids.new()
        text, crc = body_and_crc(result)
        with self.db.transaction() as connection:
            self._need_drive(drive_id)
            connection.execute(
                "INSERT INTO review VALUES (?, ?, ?, ?, ?, ?)",
                (review_id, drive_id, version, self.utc(), text, crc),
            )
        return review_id


def _need_open(connection, drive_id: str) -> None:
    ended = connection.execute("SELECT ended_utc FROM drive WHERE id = ?", (drive_id,)).fetchone()
    if ended is None:
        raise no_such("drive", drive_id)
    if ended[0] is not None:
        raise Refused(
            Remark("drive_ended", drive_id, "to add to a drive", f"it ended at {ended[0]}",
                   "begin another; drives are never continued")
        )  # fmt: skip


def _next_seq(connection, table: str, drive_id: str, column: str = "seq") -> int:
    row = connection.execute(
        f"SELECT coalesce(max({column}), -1) + 1 FROM {table} WHERE drive_id = ?", (drive_id,)
    ).fetchone()
    return int(row[0])
