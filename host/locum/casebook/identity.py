"""Who a car belongs to: kept apart from its case, left out by default, erased for good."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from locum.casebook import jsontext
from locum.casebook.records import IDENTITY_FIELDS
from locum.casebook.shelf import Shelf, body_and_crc


class IdentityShelf(Shelf):
    """Owns the table ``identity``."""

    def set_identity(self, case_id: str, identity: dict[str, str]) -> None:
        """Keep who the car belongs to, apart from the case. An empty value takes one back."""
        with self.db.transaction() as connection:
            self._need_case(case_id)
            self._put_identity(connection, case_id, jsontext.plain(identity))

    def _put_identity(self, connection, case_id: str, identity: dict[str, Any]) -> None:
        for field, value in identity.items():
            if value in (None, ""):
                connection.execute(
                    "DELETE FROM identity WHERE case_id = ? AND field = ?", (case_id, field)
                )
            else:
                connection.execute(
                    "INSERT OR REPLACE INTO identity VALUES (?, ?, ?)",
                    (case_id, field, str(value)),
                )

    def identity(self, case_id: str) -> dict[str, str]:
        """Who the car belongs to; empty if never told or erased."""
        rows = self.db.rows("SELECT field, value FROM identity WHERE case_id = ?", (case_id,))
        return {row["field"]: row["value"] for row in rows}

    def erase_identity(self, case_id: str, *, author: str = "") -> int:
        """Take identity out for good, also from the file's unused pages and its log.

        The technical case stays whole; that something was erased, when and by whom is written down.
        Backups and exports made earlier are other files and keep what they hold: the caller says
        so. Returns how many fields were erased.
        """
        with self.db.lock:
            self.db.rows("PRAGMA secure_delete = ON")
            with self.db.transaction() as connection:
                self._need_case(case_id)
                count = connection.execute(
                    "DELETE FROM identity WHERE case_id = ?", (case_id,)
                ).rowcount
                text, crc = body_and_crc({"identity_fields": count})
                connection.execute(
                    "INSERT INTO finding VALUES (?, ?, 'erased', ?, ?, ?, ?)",
                    (self.ids.new(), case_id, self.utc(), jsontext.clean(author), text, crc),
                )
            self.db.rows("PRAGMA wal_checkpoint(TRUNCATE)")
        return count


def apart(
    fields: dict[str, Any], names: Iterable[str] = IDENTITY_FIELDS
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Fields of the case, and of its owner, also where they were written inside a table."""
    names = frozenset(names)
    technical: dict[str, Any] = {}
    identity: dict[str, Any] = {}
    for key, value in fields.items():
        if key.lower() in names:
            identity[key.lower()] = value
        elif key in ("identity", "owner_data") and isinstance(value, dict):
            identity.update({name.lower(): item for name, item in value.items()})
        elif key in ("vehicle", "complaint") and isinstance(value, dict):
            inner, found = apart(value, names - {"name"})  # a vehicle's name says what
            technical[key] = inner
            identity.update(found)
        else:
            technical[key] = value
    return technical, identity
