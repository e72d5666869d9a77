"""What the parts of the store share: the database, ids, the time, and looking things up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from locum.casebook import jsontext
from locum.casebook.database import Database
from locum.casebook.ids import IdMaker
from locum.errors import Refused, Remark


def utc_text(moment: datetime) -> str:
    """ISO 8601 in UTC with milliseconds and ``Z``; a time without zone is taken as UTC."""
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    moment = moment.astimezone(UTC)
    return moment.strftime("%Y-%m-%dT%H:%M:%S.") + f"{moment.microsecond // 1000:03d}Z"


class Shelf:
    """Base of the store's parts; each part owns a few tables."""

    db: Database
    ids: IdMaker
    now: Callable[[], datetime]

    def utc(self) -> str:
        """The present time as it is stored."""
        return utc_text(self.now())

    def words_changed(self, case_id: str) -> None:
        """Called inside a transaction that changed what a case can be found by."""

    def _need_case(self, case_id: str) -> None:
        if not self.db.row("SELECT 1 FROM cases WHERE id = ?", (case_id,)):
            raise no_such("case", case_id)

    def _need_drive(self, drive_id: str) -> None:
        if not self.db.row("SELECT 1 FROM drive WHERE id = ?", (drive_id,)):
            raise no_such("drive", drive_id)


def no_such(what: str, ident: str) -> Refused:
    """Refused: nothing of that kind has that id."""
    return Refused(
        Remark(
            f"no_such_{what}",
            "",
            f"a {'recording' if what == 'drive' else what} with the id '{ident}'",
            "none in this casebook",
            f"`locum {what} list` shows the ids; the first or last characters are enough",
        )
    )


def body_and_crc(value: Any) -> tuple[str, int]:
    """JSON text of a body and the CRC kept beside it."""
    text = jsontext.written(value)
    return text, jsontext.crc(text)
