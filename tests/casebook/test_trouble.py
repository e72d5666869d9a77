"""Full disk, read-only, busy, damaged, foreign: a plain sentence each, and nothing lost."""

import os
import random
import sqlite3
import subprocess
import sys
import textwrap
from contextlib import suppress

import pytest

from locum.casebook import check
from locum.casebook.migrate import free_name
from locum.casebook.rescue import rescue
from locum.casebook.store import Store
from locum.errors import FileTrouble


def plain(error: pytest.ExceptionInfo) -> str:
    """The sentence a person reads; every one says where, what was found, and what to do."""
    remark = error.value.remarks[0]
    assert remark.where
    assert remark.found
    assert remark.remedy
    assert "Traceback" not in remark.text
    return remark.text


def filled(path, cases=12):
    with Store.open(path) as store:
        for number in range(cases):
            case_id = store.new_case({"title": f"case {number}", "text": "x" * 1500})
            drive_id = store.begin_drive("listen", case_id)
            store.append(drive_id, [bytes([number]) * 3000] * 40, [(n, n, 1.0) for n in range(40)])
            store.add_finding(case_id, "note", {"words": "y" * 700})


def test_full_disk_is_told_and_nothing_is_lost(path):
    filled(path)
    with Store.open(path) as store:
        drive_id = store.begin_drive("listen")
        store.append(drive_id, [b"kept"])
        pages = store.db.rows("PRAGMA page_count")[0][0]
        store.db.rows(f"PRAGMA max_page_count = {pages + 2}")  # SQLite's own word for a full disk
        with pytest.raises(FileTrouble, match="no space left") as error:
            store.append(drive_id, [b"z" * 100_000])
        assert "free some space" in plain(error).lower()
        store.db.rows("PRAGMA max_page_count = 1000000")
        store.append(drive_id, [b"after"])
        assert list(store.blocks(drive_id)) == [b"kept", b"after"]
        assert all(line.passed for line in store.check())


@pytest.mark.skipif(sys.platform == "win32", reason="file size limits are POSIX")
def test_file_that_may_not_grow_is_told_and_stays_whole(path):
    filled(path)
    script = """
        import resource, sys
        from locum.casebook.store import Store
        from locum.errors import FileTrouble
        with Store.open(sys.argv[1]) as store:
            drive = store.begin_drive("listen")
            store.append(drive, [b"kept"])
            resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, -1))
            try:
                store.append(drive, [bytes(300_000)])
            except FileTrouble as error:
                print(error.remarks[0].text)
            resource.setrlimit(resource.RLIMIT_FSIZE, (-1, -1))
            store.append(drive, [b"after"])
            print(list(store.blocks(drive)), all(line.passed for line in store.check()))
    """
    run = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script), str(path)],
        capture_output=True,
        text=True,
        check=True,
    )
    told, kept = run.stdout.strip().splitlines()
    assert "disk" in told
    assert kept == "[b'kept', b'after'] True"


@pytest.mark.skipif(os.name == "nt", reason="folder rights are POSIX")
def test_read_only_place_can_be_read_and_says_why_not_written(tmp_path):
    folder = tmp_path / "shelf"
    path = folder / "casebook.sqlite"
    filled(path)
    with Store.open(path, read_only=True) as store:
        assert store.case_count() == 12
        with pytest.raises(FileTrouble, match="reading only") as error:
            store.new_case({})
        assert plain(error)
    script = """
        import os, sys
        from locum.casebook.store import Store
        from locum.errors import FileTrouble
        Store.open(":memory:").close()  # so that all code is loaded before rights are given up
        if os.geteuid() == 0:
            os.setgid(65534); os.setuid(65534)
        try:
            Store.open(sys.argv[1]).new_case({})
            print("written")
        except FileTrouble as error:
            print(error.remarks[0].text)
        print(Store.open(sys.argv[1], read_only=True).case_count())
    """
    for step in (*tmp_path.parents, tmp_path, folder):
        if step.stat().st_uid == os.getuid() and step != step.parent:
            step.chmod(step.stat().st_mode | 0o555)
    folder.chmod(0o555)
    path.chmod(0o444)
    try:
        run = subprocess.run(
            [sys.executable, "-c", textwrap.dedent(script), str(path)],
            capture_output=True,
            text=True,
        )
    finally:
        folder.chmod(0o755)
    assert run.returncode == 0, run.stderr
    told, count = run.stdout.strip().splitlines()
    assert "casebook" in told
    assert told != "written"
    assert count == "12"


def test_opened_twice_both_write_and_nothing_is_lost(path):
    with Store.open(path) as one, Store.open(path) as two:
        first, second = one.begin_drive("listen"), two.begin_drive("listen")
        for number in range(30):
            one.append(first, [bytes([number])])
            two.append(second, [bytes([number])])
        assert list(two.blocks(first)) == list(one.blocks(second))
        assert len(one.drives()) == 2


def test_file_held_by_another_program_is_told(path, monkeypatch):
    monkeypatch.setattr("locum.casebook.database.BUSY_MS", 50)
    with Store.open(path) as store:
        drive_id = store.begin_drive("listen")
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(FileTrouble, match="another program") as error:
            store.append(drive_id, [b"x"])
        assert "close the other program" in plain(error).lower()
        other.execute("ROLLBACK")
        other.close()
        store.append(drive_id, [b"x"])
        assert list(store.blocks(drive_id)) == [b"x"]


def test_two_programs_begin_the_same_file_at_once(path):
    script = (
        "import sys; from locum.casebook.store import Store; Store.open(sys.argv[1]).new_case({})"
    )
    runs = [subprocess.Popen([sys.executable, "-c", script, str(path)]) for _ in range(4)]
    assert [run.wait() for run in runs] == [0, 0, 0, 0]
    with Store.open(path) as store:
        assert store.case_count() == 4


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"just some text that is no database at all" * 10, "not a casebook"),
        (b"SQLite format 3\0" + b"\x10\x00" + bytes(50) + b"othr" + bytes(500), "another program"),
    ],
)
def test_other_files_are_refused_and_left_alone(path, content, says):
    path.write_bytes(content)
    with pytest.raises(FileTrouble, match=says) as error:
        Store.open(path)
    assert plain(error)
    assert path.read_bytes() == content


def test_database_of_another_program_is_left_alone(path):
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE mine (x)")
    other.commit()
    other.close()
    with pytest.raises(FileTrouble, match="another program"):
        Store.open(path)
    names = sqlite3.connect(path).execute("SELECT name FROM sqlite_schema").fetchall()
    assert names == [("mine",)]


def test_missing_file_and_folder(path, tmp_path):
    with pytest.raises(FileTrouble, match="no file") as error:
        Store.open(path, read_only=True)
    assert plain(error)
    with pytest.raises(FileTrouble, match="a folder"):
        Store.open(tmp_path)
    (tmp_path / "file").write_text("x")
    with pytest.raises(FileTrouble):
        Store.open(tmp_path / "file" / "casebook.sqlite")


@pytest.mark.parametrize("seed", range(8))
def test_damaged_pages_are_named_and_the_rest_is_saved(path, tmp_path, seed):
    filled(path)
    chance = random.Random(seed)
    data = bytearray(path.read_bytes())
    for page in chance.sample(range(1, len(data) // 4096), 3):
        data[page * 4096 : (page + 1) * 4096] = chance.randbytes(4096)
    path.write_bytes(data)
    lines = check.check_file(path)
    assert not all(line.passed for line in lines)
    assert path.read_bytes() == bytes(data)
    saved = tmp_path / "saved.sqlite"
    report = {line.name: line for line in rescue(path, saved)}
    with Store.open(saved) as store:
        kept = sum(drive.blocks for drive in store.drives())
        assert kept == int(report["block"].detail.split()[0])
        lost = sum(int(line.detail.split()[-2]) for line in report.values())
        # Three pages: at worst one leads to many others, and those may all be of one table.
        assert lost > 0
        assert kept + store.case_count() > 0
        assert [line.name for line in store.check() if not line.passed] in ([], ["recordings"])


def test_damaged_file_opens_or_is_told_and_never_anything_else(path):
    filled(path)
    whole = path.read_bytes()
    chance = random.Random(5)
    for _ in range(25):
        data = bytearray(whole)
        at = chance.randrange(100, len(data) - 2000)
        data[at : at + 2000] = chance.randbytes(2000)
        path.write_bytes(data)
        with suppress(FileTrouble), Store.open(path) as store:
            for case in store.cases():
                store.findings(case.id)
        for leftover in path.parent.glob("casebook.sqlite-*"):
            leftover.unlink()


def test_one_changed_bit_in_a_block_is_found(path):
    with Store.open(path) as store:
        drive_id = store.begin_drive("listen")
        store.append(drive_id, [b"A" * 2000, b"B" * 2000])
    data = path.read_bytes()
    path.write_bytes(data.replace(b"B" * 2000, b"B" * 1999 + b"C"))
    lost = [line for line in check.check_file(path) if not line.passed]
    assert [line.lost for line in lost] == [(f"block {drive_id}/1",)]


def test_one_changed_letter_of_a_case_is_told(path):
    with Store.open(path) as store:
        case_id = store.new_case({"title": "unmistakable title"})
    data = path.read_bytes()
    path.write_bytes(data.replace(b'{"title":"unmistakable', b'{!title":"unmistakable'))
    with Store.open(path) as store, pytest.raises(FileTrouble, match="case check") as error:
        store.case(case_id)
    assert plain(error)
    lost = [name for line in check.check_file(path) for name in line.lost]
    assert lost == [f"cases {case_id}"]


def test_backup_is_whole_and_replaces_nothing(path, clock):
    filled(path, 3)
    with Store.open(path, now=clock) as store:
        drive_id = store.begin_drive("listen")
        store.append(drive_id, [b"newest"])
        one, two = store.backup(), store.backup()
        assert one != two
        with pytest.raises(FileTrouble, match="a file of that name"):
            store.backup(one)
    with Store.open(one) as copy:
        assert list(copy.blocks(drive_id)) == [b"newest"]
        assert all(line.passed for line in copy.check())


def test_free_name_counts_on(tmp_path):
    (tmp_path / "a.sqlite").touch()
    (tmp_path / "a-2.sqlite").touch()
    assert free_name(tmp_path / "a.sqlite").name == "a-3.sqlite"
