"""Sheets and attachments: kept once by their SHA-256, handed back byte for byte."""

from __future__ import annotations

import hashlib
import mimetypes
import sqlite3
from pathlib import Path

from locum.casebook import jsontext
from locum.casebook.records import Attachment, Sheet
from locum.casebook.shelf import Shelf
from locum.errors import FileTrouble, Refused, Remark

LARGEST_ATTACHMENT = 64 * 2**20
"""Photos and scans fit; films belong beside the casebook, which is copied for every backup."""


def put_content(connection: sqlite3.Connection, data: bytes) -> str:
    """Keep ``data`` unless it is there already; its SHA-256."""
    sha256 = hashlib.sha256(data).hexdigest()
    connection.execute("INSERT OR IGNORE INTO content VALUES (?, ?, ?)", (sha256, len(data), data))
    return sha256


class ContentShelf(Shelf):
    """Owns ``content``, ``case_sheet`` and ``attachment``."""

    def attach_sheet(self, case_id: str, role: str, name: str, text: str) -> str:
        """Copy a sheet verbatim into a case; its SHA-256. The same text twice is kept once."""
        with self.db.transaction() as connection:
            self._need_case(case_id)
            sha256 = put_content(connection, text.encode("utf-8"))
            known = connection.execute(
                "SELECT 1 FROM case_sheet WHERE (case_id, role, name, sha256) = (?, ?, ?, ?)",
                (case_id, role, name, sha256),
            ).fetchone()
            if not known:
                connection.execute(
                    "INSERT INTO case_sheet VALUES (?, ?, ?, ?, ?, ?)",
                    (self.ids.new(), case_id, role, name, sha256, self.utc()),
                )
        return sha256

    def sheets(self, case_id: str) -> list[Sheet]:
        """All sheets of a case, oldest first; the newest of a role is the one in use."""
        rows = self.db.rows(
            "SELECT s.role, s.name, s.sha256, s.attached_utc, c.data FROM case_sheet AS s "
            "JOIN content AS c USING (sha256) WHERE case_id = ? ORDER BY s.id",
            (case_id,),
        )
        return [Sheet.from_row(row) for row in rows]

    def sheet(self, case_id: str, role: str) -> Sheet | None:
        """The sheet now in use for a role."""
        found = [sheet for sheet in self.sheets(case_id) if sheet.role == role]
        return found[-1] if found else None

    def attach(
        self,
        case_id: str,
        name: str,
        data: bytes,
        *,
        drive_id: str | None = None,
        media_type: str = "",
        author: str = "",
        note: str = "",
    ) -> Attachment:
        """Keep a photo, scan or foreign log with the case."""
        _refuse_large(name, data)
        ident, at_utc = self.ids.new(), self.utc()
        with self.db.transaction() as connection:
            self._need_case(case_id)
            made = Attachment(
                id=ident,
                case_id=case_id,
                drive_id=drive_id,
                name=jsontext.clean(name),
                media_type=media_type
                or mimetypes.guess_type(name)[0]
                or "application/octet-stream",
                sha256=put_content(connection, data),
                size=len(data),
                at_utc=at_utc,
                author=jsontext.clean(author),
                note=jsontext.clean(note),
            )
            connection.execute(
                "INSERT INTO attachment VALUES (:id, :case_id, :drive_id, :name, :media_type, "
                ":sha256, :at_utc, :author, :note)",
                vars(made),
            )
        return made

    def attach_file(self, case_id: str, path: Path | str, **details) -> Attachment:
        """Keep a file's content with the case, under its own name without the folder."""
        path = Path(path)
        try:
            data = path.read_bytes()
        except OSError as error:
            raise FileTrouble(
                Remark(
                    "attachment_unreadable",
                    str(path),
                    "a file to attach",
                    error.strerror or str(error),
                    "check the path",
                )
            ) from error
        return self.attach(case_id, path.name, data, **details)

    def attachments(self, case_id: str) -> list[Attachment]:
        """Files kept with a case, oldest first, without their bytes."""
        rows = self.db.rows(
            "SELECT a.*, c.size FROM attachment AS a JOIN content AS c USING (sha256) "
            "WHERE case_id = ? ORDER BY a.id",
            (case_id,),
        )
        names = Attachment.__dataclass_fields__
        return [Attachment(**{name: row[name] for name in names}) for row in rows]

    def content(self, sha256: str) -> bytes:
        """The bytes of a sheet or attachment."""
        row = self.db.row("SELECT data FROM content WHERE sha256 = ?", (sha256,))
        if row is None:
            raise Refused(
                Remark(
                    "no_such_content",
                    "",
                    f"content {sha256[:12]}",
                    "none in this casebook",
                    "run 'locum case check'",
                )
            )
        return bytes(row["data"])


def _refuse_large(name: str, data: bytes) -> None:
    if len(data) > LARGEST_ATTACHMENT:
        raise Refused(
            Remark(
                "attachment_too_large",
                name,
                f"at most {LARGEST_ATTACHMENT // 2**20} MB",
                f"{len(data) / 2**20:.1f} MB",
                "keep it beside the casebook and note its place",
            )
        )
