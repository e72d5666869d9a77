"""The casebook: one SQLite file for a workshop, written during the work.

``Store`` is put together from shelves, one for each group of tables; this file opens and closes.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import locum
from locum.casebook import ids
from locum.casebook.cases import CaseShelf
from locum.casebook.check import check
from locum.casebook.content import ContentShelf
from locum.casebook.database import Database
from locum.casebook.drives import DriveShelf
from locum.casebook.findings import FindingShelf
from locum.casebook.migrate import copy_into, free_name, migrate
from locum.casebook.records import CheckLine
from locum.casebook.search import SearchShelf
from locum.casebook.synonyms import OWN_NAME, read_synonyms
from locum.errors import FileTrouble, Remark


def _now() -> datetime:
    return datetime.now(UTC)


class Store(SearchShelf, CaseShelf, DriveShelf, FindingShelf, ContentShelf):
    """An open casebook. Usable from several threads; several programs may open the same file."""

    def __init__(self, db: Database, now: Callable[[], datetime] = _now) -> None:
        self.db = db
        self.now = now
        self.backup_made: Path | None = migrate(db, now, f"locum {locum.__version__}")
        """The copy made before the file was brought to a newer schema, if it was."""
        newest = self._newest_id()
        self.ids = ids.IdMaker(lambda: int(self.now().timestamp() * 1000), newest)
        self.remarks: list[Remark] = list(self._clock_remarks(newest))
        """What a person should know about this file, such as a clock that was set back."""
        if db.journal not in ("wal", "memory"):
            self.remarks.append(
                Remark(
                    "casebook_without_wal",
                    str(db.path),
                    "a casebook on this computer's own disk",
                    f"a place where SQLite keeps its log as '{db.journal}', such as a network share",
                    "keep the casebook on a local disk and back it up to the share",
                )
            )
        own = db.path.with_name(OWN_NAME) if isinstance(db.path, Path) else None
        self.synonyms, faults = read_synonyms(own)
        self.remarks += faults
        self.ready_search()

    @classmethod
    def open(
        cls,
        path: Path | str,
        *,
        read_only: bool = False,
        now: Callable[[], datetime] = _now,
    ) -> Store:
        """Open a casebook, or begin one if there is no file (``":memory:"`` for tests).

        Raises
        ------
        FileTrouble
            In plain words: newer schema, not a casebook, damaged, read-only, disk full, busy.
        """
        db = Database(path, read_only)
        try:
            return cls(db, now)
        except BaseException:
            db.close()
            raise

    @property
    def path(self) -> Path | str:
        return self.db.path

    def close(self) -> None:
        self.db.close()

    def check(self) -> list[CheckLine]:
        """Whether everything in the file is whole; changes nothing."""
        return check(self.db)

    def backup(self, target: Path | str | None = None) -> Path:
        """A whole, compact copy, also while a recording runs; its path.

        Without ``target`` it gets a name with the time beside the casebook. Never replaces a file.
        """
        if target is None:
            if not isinstance(self.path, Path):
                raise FileTrouble(Remark("backup_nowhere", "", "a path for the backup", "none"))
            stamp = self.now().strftime("%Y%m%dT%H%M%SZ")
            target = free_name(self.path.with_name(f"{self.path.stem}-backup-{stamp}.sqlite"))
        target = Path(target)
        copy_into(self.db, target)
        return target

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _newest_id(self) -> str | None:
        tables = ("cases", "drive", "finding", "case_change", "calibration", "review")
        parts = " UNION ALL ".join(f"SELECT max(id) AS id FROM {table}" for table in tables)
        row = self.db.row(f"SELECT max(id) FROM ({parts})")
        return row[0] if row else None

    def _clock_remarks(self, newest: str | None):
        """Ids go on rising whatever the clock does, so order is kept; the times would be wrong."""
        if not newest or not ids.is_id(newest):
            return
        made = datetime.fromtimestamp(ids.made_ms(newest) / 1000, UTC)
        behind_s = (made - self.now()).total_seconds()
        if behind_s > 2.0:
            yield Remark(
                "clock_set_back",
                str(self.path),
                f"a clock later than the newest entry, {made:%Y-%m-%d %H:%M} UTC",
                f"{self.now():%Y-%m-%d %H:%M} UTC",
                "set the computer's clock; entries keep their order meanwhile and nothing is lost",
            )
