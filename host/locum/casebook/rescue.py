"""What can be read of a damaged casebook, copied into a new one."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

from locum.casebook import rows
from locum.casebook.check import MOST_NAMED, named, present, readable_rows
from locum.casebook.database import Database
from locum.casebook.records import CheckLine
from locum.casebook.troubles import trouble
from locum.errors import FileTrouble, Remark


def rescue(path: Path | str, into: Path) -> list[CheckLine]:
    """Copy everything that can be read of a damaged casebook into a new one.

    Rows whose case or drive is lost get a stand-in named "rescued", so that nothing readable is
    left behind. The damaged file is not changed. Returns what is in the new file, table by table.
    """
    from locum.casebook.store import Store

    if into.exists():
        raise FileTrouble(
            Remark("file_exists", str(into), "a new file", "one of that name", "choose another")
        )
    source = Database(path, read_only=True)
    try:
        with Store.open(into) as target:
            lines = [_rescue_table(source, target, table) for table in present(source)]
            _stand_ins(target)
            target.index_anew()
        return lines
    except sqlite3.Error as error:
        raise trouble(error, into) from error
    finally:
        source.close()


def _rescue_table(source: Database, target: Any, table: rows.Table) -> CheckLine:
    lost: list[dict[str, Any]] = []
    known = rows.columns(target.db, table.name)
    target.db.rows("PRAGMA foreign_keys = OFF")
    count = 0
    with target.db.transaction() as connection:
        for row in readable_rows(source, table, lost):
            if not rows.sum_is_right(row, table):
                lost.append(row)
                continue
            names = [column for column in row if column in known]
            count += connection.execute(
                f"INSERT OR IGNORE INTO {table.name} ({', '.join(names)}) "
                f"VALUES ({', '.join('?' * len(names))})",
                [row[column] for column in names],
            ).rowcount
    target.db.rows("PRAGMA foreign_keys = ON")
    lost_names = tuple(named(table, row) for row in lost[:MOST_NAMED])
    return CheckLine(table.name, not lost, f"{count} saved, {len(lost)} lost", lost_names)


_STAND_INS = (
    "INSERT OR IGNORE INTO drive SELECT DISTINCT drive_id, 'rescued', NULL, '', NULL, NULL, "
    "'{{}}', '{{}}', {crc} FROM {table} WHERE drive_id NOT IN (SELECT id FROM drive)",
    "INSERT OR IGNORE INTO cases SELECT DISTINCT case_id, 'rescued', '', "
    '\'{{"title":"rescued"}}\', {crc} FROM {table} '
    "WHERE case_id IS NOT NULL AND case_id NOT IN (SELECT id FROM cases)",
)


def _stand_ins(target: Any) -> None:
    from locum.casebook.jsontext import crc

    drive_crc, case_crc = crc("{}{}"), crc('{"title":"rescued"}')
    with target.db.transaction() as connection:
        for table in rows.TABLES.values():
            names = rows.columns(target.db, table.name)
            if "drive_id" in names:
                connection.execute(_STAND_INS[0].format(crc=drive_crc, table=table.name))
            if "case_id" in names:
                connection.execute(_STAND_INS[1].format(crc=case_crc, table=table.name))
        for name in ("case_sheet", "drive_sheet", "attachment"):
            connection.execute(
                f"DELETE FROM {name} WHERE sha256 NOT IN (SELECT sha256 FROM content)"
            )
