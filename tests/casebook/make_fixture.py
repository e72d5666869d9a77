"""Writes the present schema, filled, as SQL text: run once when a schema is released.

``python tests/casebook/make_fixture.py`` writes ``fixtures/schema_N.sql`` and refuses to replace
one: a released schema's fixture never changes.
"""

import sys
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

from locum.casebook.schema import SCHEMA
from locum.casebook.store import Store

FOLDER = Path(__file__).parent / "fixtures"


def filled(path) -> Store:
    """A small casebook with something in every table that the store can write."""
    minutes = count()
    begin = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
    store = Store.open(path, now=lambda: begin + timedelta(minutes=next(minutes)))
    case = store.new_case(
        {
            "title": "Halden P4: clutch lets go",
            "vehicle": {"family": "Halden P4", "odometer_km": 214380, "plate": "QX 77"},
            "component": "coolant sensor circuit",
            "complaint": {"words": "drops out of top gear when it rains"},
            "phone": "000",
        },
        author="Ilves",
    )
    store.change_case(case, {"vehicle": {"year": 2011}}, author="Ilves")
    store.attach_sheet(case, "sensor", "halden.toml", 'unit = "C"  # Öl\n')
    store.attach(case, "photo.jpg", b"\xff\xd8 not a real photo", author="Ilves", note="before")
    drive = store.begin_drive(
        "listen", case, {"serial": "0007"}, {"board": ("reference.toml", "schema = 1\n")}, {"a": 1}
    )
    store.append(drive, [b"\x00\x01raw", b"\xffmore"], [(0, 1772434800000, 3.5)])
    store.add_gap(drive, 100, 200, 7, "overrun")
    store.begin_stretch(drive, 0, "real", "still", {"profile": "x"})
    store.answer(drive, 0, True)
    store.add_mark(drive, 1500, "key", 10000, "on the ramp")
    store.end_drive(drive, "done", 60000)
    store.add_review(drive, "review 1", {"kick_outs": 1, "glitches": [0.25, None]})
    store.begin_drive("hold")
    store.add_finding(case, "found", {"cause": "sensor opens hot"}, "Ilves")
    store.tick_hand_back(case, "device_removed", author="Ilves")
    store.add_follow_up(case, 6.5, 0, author="Ilves")
    store.add_calibration("0007", {"tables": [1, 2, 3]}, "bench meter")
    store.close_case(case, author="Ilves")
    return store


def main() -> int:
    target = FOLDER / f"schema_{SCHEMA}.sql"
    if target.exists():
        print(f"{target.name} is released and stays as it is", file=sys.stderr)
        return 1
    store = filled(":memory:")
    if store.has_fts:  # an index over what is there, and not every SQLite has it
        store.db.connection.execute("DROP TABLE case_fts")
        store.db.connection.execute("UPDATE about SET value = 'stale' WHERE key = 'words_index'")
    lines = list(store.db.connection.iterdump())
    head = [f"PRAGMA user_version = {SCHEMA};", "PRAGMA application_id = 1819239277;"]
    FOLDER.mkdir(exist_ok=True)
    target.write_text("\n".join([*head, *lines]) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
