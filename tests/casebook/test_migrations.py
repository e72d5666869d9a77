"""Every released schema opens, is backed up first, and keeps what it held."""

import sqlite3
from pathlib import Path

import pytest

from locum.casebook import migrate, schema
from locum.casebook.check import check_file
from locum.casebook.merge import merge
from locum.casebook.store import Store
from locum.errors import FileTrouble

FIXTURES = sorted((Path(__file__).parent / "fixtures").glob("schema_*.sql"))


def casebook_of(sql: Path, path: Path) -> Path:
    database = sqlite3.connect(path)
    database.executescript(sql.read_text("utf-8"))
    database.close()
    return path


def test_every_released_schema_has_its_fixture():
    numbers = [int(sql.stem.removeprefix("schema_")) for sql in FIXTURES]
    assert numbers == list(range(1, schema.SCHEMA + 1))


@pytest.mark.parametrize("sql", FIXTURES, ids=lambda sql: sql.stem)
def test_older_casebook_opens_and_keeps_everything(sql, path, clock):
    number = int(sql.stem.removeprefix("schema_"))
    casebook_of(sql, path)
    with Store.open(path, now=clock) as store:
        [case] = store.cases()
        assert case.title == "Halden P4: clutch lets go"
        assert case.fields["vehicle"] == {
            "family": "Halden P4",
            "odometer_km": 214380,
            "year": 2011,
        }
        assert store.identity(case.id) == {"phone": "000", "plate": "QX 77"}
        drive, unfiled = store.drives()
        assert list(store.blocks(drive.id)) == [b"\x00\x01raw", b"\xffmore"]
        assert (drive.stretches[0].felt, drive.gaps[0].lost) == (True, 7)
        assert store.reviews(drive.id)[0].result == {"kick_outs": 1, "glitches": [0.25, None]}
        assert unfiled.case_id is None
        assert store.sheet(case.id, "sensor").text == 'unit = "C"  # Öl\n'
        assert store.followed_up(case.id).hours == 6.5
        assert store.calibration("0007").body == {"tables": [1, 2, 3]}
        assert case.closed_utc == store.findings(case.id, "closed")[0].at_utc
        assert [hit.id for hit in store.find("overdrive wet")] == [case.id]
        assert all(line.passed for line in store.check())
        if number == schema.SCHEMA:
            assert store.backup_made is None
            return
        backup = store.backup_made
    assert backup is not None
    assert sqlite3.connect(backup).execute("PRAGMA user_version").fetchone() == (number,)
    assert sqlite3.connect(backup).execute("SELECT count(*) FROM block").fetchone() == (2,)
    with Store.open(path) as store:
        assert store.backup_made is None


@pytest.mark.parametrize("sql", FIXTURES[:-1], ids=lambda sql: sql.stem)
def test_older_casebook_can_be_checked_and_merged_without_being_changed(sql, path, store):
    before = casebook_of(sql, path).read_bytes()
    assert all(line.passed for line in check_file(path))
    assert len(merge(store, path).cases) == 1
    assert path.read_bytes() == before


def test_migrated_and_new_casebooks_have_the_same_tables(path, tmp_path):
    def tables(at):
        rows = sqlite3.connect(at).execute(
            "SELECT name, sql FROM sqlite_schema WHERE name NOT LIKE 'case_fts%' ORDER BY name"
        )
        return [(name, " ".join((sql or "").split())) for name, sql in rows]

    casebook_of(FIXTURES[0], path)
    Store.open(path).close()
    Store.open(tmp_path / "new.sqlite").close()
    squeezed = [(n, s.replace(" ", "").replace('"', "")) for n, s in tables(path)]
    assert squeezed == [
        (n, s.replace(" ", "").replace('"', "")) for n, s in tables(tmp_path / "new.sqlite")
    ]


def test_newer_casebook_is_refused_and_untouched(path):
    Store.open(path).close()
    database = sqlite3.connect(path)
    database.execute(f"PRAGMA user_version = {schema.SCHEMA + 1}")
    database.close()
    before = path.read_bytes()
    with pytest.raises(FileTrouble, match="newer locum") as error:
        Store.open(path)
    assert "use the newer program" in error.value.remarks[0].text.lower()
    assert path.read_bytes() == before


def test_step_that_fails_changes_nothing_and_leaves_the_backup(path, monkeypatch):
    casebook_of(FIXTURES[0], path)
    steps = (*schema.STEPS[:1], ("broken", "CREATE TABLE a (x) STRICT;\nCREATE TABLE b (y);"))
    monkeypatch.setattr(migrate, "STEPS", steps)
    with pytest.raises(FileTrouble):
        Store.open(path)
    database = sqlite3.connect(path)
    assert database.execute("PRAGMA user_version").fetchone() == (1,)
    assert database.execute("SELECT count(*) FROM sqlite_schema WHERE name = 'b'").fetchone() == (
        0,
    )
    assert len(list(path.parent.glob("casebook-schema1-*.sqlite"))) == 1


def test_without_room_for_the_backup_nothing_is_migrated(path, monkeypatch):
    casebook_of(FIXTURES[0], path)

    def no_room(*_):
        raise FileTrouble("no space left on the disk")

    monkeypatch.setattr(migrate, "copy_into", no_room)
    with pytest.raises(FileTrouble, match="no space"):
        Store.open(path)
    assert sqlite3.connect(path).execute("PRAGMA user_version").fetchone() == (1,)


def test_older_casebook_is_not_migrated_when_only_read(path):
    casebook_of(FIXTURES[0], path)
    with pytest.raises(FileTrouble, match="open it once for writing|Open it once for writing"):
        Store.open(path, read_only=True)


def test_statements_are_parted_at_their_ends():
    script = "CREATE TABLE a (x);\n-- why;\nINSERT INTO a VALUES ('b;c');"
    assert [line.split()[0] for line in migrate.statements(script)] == ["CREATE", "--"]
    with pytest.raises(ValueError, match="without an end"):
        list(migrate.statements("CREATE TABLE a (x)"))
