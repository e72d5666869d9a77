"""Drives as they are read: one with everything noted while it was made, its record, its reviews."""

from __future__ import annotations

from collections.abc import Iterator

from locum.casebook import jsontext
from locum.casebook.records import Drive, Gap, Mark, Review, Sheet, Stretch
from locum.casebook.shelf import Shelf, no_such


class DriveReading(Shelf):
    """Reads the tables that ``DriveShelf`` owns; changes nothing."""

    def drive(self, drive_id: str) -> Drive:
        """One drive with everything but its raw blocks."""
        row = self.db.row("SELECT * FROM drive WHERE id = ?", (drive_id,))
        if row is None:
            raise no_such("drive", drive_id)
        return self._drive(row)

    def drives(self, case_id: str | None = None, limit: int | None = None) -> list[Drive]:
        """Drives of a case, oldest first; without ``case_id`` all of the casebook's."""
        where = "" if case_id is None else "WHERE case_id = :case"
        rows = self.db.rows(
            f"SELECT * FROM drive {where} ORDER BY id LIMIT :limit",
            {"case": case_id, "limit": -1 if limit is None else limit},
        )
        return [self._drive(row) for row in rows]

    def unfiled_drives(self) -> list[Drive]:
        """Drives recorded without a case, oldest first."""
        rows = self.db.rows("SELECT * FROM drive WHERE case_id IS NULL ORDER BY id")
        return [self._drive(row) for row in rows]

    def _drive(self, row) -> Drive:
        ident = row["id"]
        size = self.db.row(
            "SELECT count(*) AS n, coalesce(sum(length(data)), 0) AS size "
            "FROM block WHERE drive_id = ?",
            (ident,),
        )
        assert size is not None
        return Drive(
            id=ident,
            kind=row["kind"],
            case_id=row["case_id"],
            started_utc=row["started_utc"],
            ended_utc=row["ended_utc"],
            how=row["how"],
            board=jsontext.read(row["board"]),
            settings=jsontext.read(row["settings"]),
            sheets=self.drive_sheets(ident),
            stretches=self.stretches(ident),
            marks=self.marks(ident),
            gaps=self.gaps(ident),
            blocks=size["n"],
            bytes=size["size"],
        )

    def drive_sheets(self, drive_id: str) -> tuple[Sheet, ...]:
        """Sheets that were in use on a drive."""
        rows = self.db.rows(
            "SELECT s.role, s.name, s.sha256, s.attached_utc, c.data FROM drive_sheet AS s "
            "JOIN content AS c USING (sha256) WHERE drive_id = ? ORDER BY role, name, s.sha256",
            (drive_id,),
        )
        return tuple(Sheet.from_row(row) for row in rows)

    def stretches(self, drive_id: str) -> tuple[Stretch, ...]:
        """Stretches of a drive in their order."""
        rows = self.db.rows(
            "SELECT s.*, (SELECT felt FROM answer AS a WHERE a.drive_id = s.drive_id "
            "AND a.stretch = s.number ORDER BY a.id DESC LIMIT 1) AS felt "
            "FROM stretch AS s WHERE drive_id = ? ORDER BY number",
            (drive_id,),
        )
        return tuple(
            Stretch(
                row["number"],
                row["start_ms"],
                row["end_ms"],
                row["connected"],
                row["foot"],
                None if row["plan"] is None else jsontext.read(row["plan"]),
                None if row["felt"] is None else bool(row["felt"]),
            )
            for row in rows
        )

    def marks(self, drive_id: str) -> tuple[Mark, ...]:
        """Marks of a drive in their order."""
        rows = self.db.rows("SELECT * FROM mark WHERE drive_id = ? ORDER BY t_ms, id", (drive_id,))
        names = ("t_ms", "kind", "ago_ms", "note", "at_utc")
        return tuple(Mark(*(row[name] for name in names)) for row in rows)

    def gaps(self, drive_id: str) -> tuple[Gap, ...]:
        """Gaps of a drive in their order."""
        rows = self.db.rows("SELECT * FROM gap WHERE drive_id = ? ORDER BY t_ms, id", (drive_id,))
        return tuple(Gap(row["t_ms"], row["until_ms"], row["lost"], row["why"]) for row in rows)

    def blocks(self, drive_id: str) -> Iterator[bytes]:
        """The raw blocks, as they came and in their order, a few hundred read at a time."""
        after = -1
        while rows := self.db.rows(
            "SELECT seq, data FROM block WHERE drive_id = ? AND seq > ? ORDER BY seq LIMIT 256",
            (drive_id, after),
        ):
            for row in rows:
                yield bytes(row["data"])
            after = rows[-1]["seq"]

    def clock_readings(self, drive_id: str) -> list[tuple[int, int, float]]:
        """``(board_ms, utc_ms, round_trip_ms)`` as they came."""
        rows = self.db.rows(
            "SELECT board_ms, utc_ms, round_trip_ms FROM clock WHERE drive_id = ? ORDER BY seq",
            (drive_id,),
        )
        return [tuple(row) for row in rows]

    def reviews(self, drive_id: str) -> list[Review]:
        """All results, oldest first; the last is the one to use."""
        rows = self.db.rows("SELECT * FROM review WHERE drive_id = ? ORDER BY id", (drive_id,))
        return [
            Review(
                row["id"],
                row["drive_id"],
                row["version"],
                row["made_utc"],
                jsontext.read(row["result"]),
            )
            for row in rows
        ]
