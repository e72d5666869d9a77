"""The union of two casebooks."""

from __future__ import annotations

import tempfile
from itertools import chain
from pathlib import Path

from locum.casebook import rows
from locum.casebook.database import Database
from locum.casebook.exchange import Arrived, Rows, put_case
from locum.casebook.migrate import copy_into, schema_of
from locum.casebook.schema import SCHEMA
from locum.casebook.store import Store


def merge(store: Store, other: Path | str, *, with_identity: bool = False) -> Arrived:
    """Bring everything of another casebook into this one; the other is not changed.

    Ids never meet by chance, so the union is free of collisions, and merging twice adds nothing.
    Each case is one transaction: if the disk fills up on the way, what came is whole and the rest
    comes with the next try.
    """
    source = Database(other, read_only=True)
    try:
        if schema_of(source) == SCHEMA:
            return _merged(store, source, with_identity)
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / "older.sqlite"
            copy_into(source, copy)
            with Store.open(copy) as older:  # refuses a newer one; migrates only the copy
                return _merged(store, older.db, with_identity)
    finally:
        source.close()


def _merged(store: Store, source: Database, with_identity: bool) -> Arrived:
    new, brought = 0, []
    for (case_id,) in source.rows("SELECT id FROM cases ORDER BY id"):
        loaded = _rows_of(source, case_id, rows.drives_of(source, case_id))
        identity = {
            row["field"]: row["value"]
            for row in source.rows("SELECT * FROM identity WHERE case_id = ?", (case_id,))
        }
        found = put_case(store, case_id, loaded, identity if with_identity else {})
        new += found
        if found:
            brought.append(case_id)
    unfiled = [row["id"] for row in source.rows("SELECT id FROM drive WHERE case_id IS NULL")]
    came = 0
    with store.db.transaction() as connection:
        for drive_id in unfiled:
            loaded = _rows_of(source, None, [drive_id])
            counts = [
                rows.put_rows(connection, name, loaded[name], rows.columns(store.db, name))
                for name in rows.TABLES
            ]
            new += sum(counts)
            came += bool(sum(counts))
        calibrations = [dict(row) for row in source.rows("SELECT * FROM calibration")]
        known = rows.columns(store.db, "calibration")
        new += rows.put_rows(connection, "calibration", calibrations, known)
    return Arrived(tuple(brought), new, came)


def _rows_of(source: Database, case_id: str | None, drive_ids: list[str]) -> Rows:
    """Rows of a case, or of drives without one; blocks and contents one at a time."""
    loaded: dict[str, list] = {name: [] for name in rows.TABLES}
    for name, table in rows.TABLES.items():
        if table.of == "case" and name not in ("drive", "identity") and case_id is not None:
            loaded[name] += rows.rows_of_case(source, name, case_id)
        if table.of == "drive" and name != "block":
            for drive_id in drive_ids:
                loaded[name] += rows.rows_of_drive(source, name, drive_id)
    for drive_id in drive_ids:
        loaded["drive"] += [
            dict(row) for row in source.rows("SELECT * FROM drive WHERE id = ?", (drive_id,))
        ]
    used = list(rows.content_used(loaded))
    contents = (source.rows("SELECT * FROM content WHERE sha256 = ?", (x,)) for x in used)
    blocks = (rows.blocks_of(source, drive_id) for drive_id in drive_ids)
    return {
        **loaded,
        "content": map(dict, chain.from_iterable(contents)),
        "block": chain.from_iterable(blocks),
    }
