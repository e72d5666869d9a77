"""The supply fails at any instant, or the disk is really full: what was there is still there."""

import os
import random
import shutil
import subprocess

import pytest

from locum.casebook.export import export_case
from locum.casebook.store import Store
from locum.errors import FileTrouble

BLOCK = 700


def copied(path, folder):
    """Casebook and log as they lie on the disk at this instant."""
    folder.mkdir()
    for source in path.parent.glob("casebook.sqlite*"):
        if not source.name.endswith("-shm"):  # memory shared between programs, gone with the power
            shutil.copyfile(source, folder / source.name)
    return folder / path.name


def numbers_in(path, drive_id) -> list[int]:
    """Numbers of the blocks that a copy holds, which must be whole."""
    with Store.open(path) as store:
        assert all(line.passed for line in store.check())
        return [int.from_bytes(block[:4], "big") for block in store.blocks(drive_id)]


@pytest.mark.parametrize("seed", range(4))
def test_power_cut_at_any_instant_keeps_every_transaction(path, tmp_path, seed):
    chance = random.Random(seed)
    with Store.open(path) as store:
        drive_id = store.begin_drive("listen")
        written = 0
        for cut in range(6):
            for _ in range(chance.randint(1, 60)):
                store.append(drive_id, [written.to_bytes(4, "big") * (BLOCK // 4)])
                written += 1
            copy = copied(path, tmp_path / f"cut-{cut}")
            assert numbers_in(copy, drive_id) == list(range(written))


@pytest.mark.parametrize("seed", range(6))
def test_log_that_had_only_half_reached_the_disk_loses_its_end_alone(path, tmp_path, seed):
    chance = random.Random(seed)
    with Store.open(path) as store:
        drive_id = store.begin_drive("listen")
        for number in range(80):
            store.append(drive_id, [number.to_bytes(4, "big") * (BLOCK // 4)])
        copy = copied(path, tmp_path / "cut")
    log = copy.with_name(copy.name + "-wal")
    data = log.read_bytes()
    at = chance.randrange(len(data))
    log.write_bytes(data[:at] + chance.randbytes(len(data) - at if seed % 2 else 0))
    if at < 40_000:  # the log's beginning holds the tables themselves
        with Store.open(copy) as store:
            assert all(line.passed for line in store.check())
    else:
        kept = numbers_in(copy, drive_id)
        assert kept == list(range(len(kept)))
        assert len(kept) <= 80


def mount(place) -> bool:
    """A real file system of 2 MB at ``place``, where we are allowed to mount one."""
    if os.name != "posix" or os.geteuid() != 0:
        return False
    words = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(place)]
    return subprocess.run(words, capture_output=True, check=False).returncode == 0


def unmount(place) -> None:
    subprocess.run(["umount", "-l", str(place)], check=True)


@pytest.fixture
def small_disk(tmp_path):
    """A disk that is full at 2 MB: a real one, else what SQLite and the system offer instead."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = mount(place)
    yield place if mounted else None
    if mounted:
        unmount(place)


def fill(store, drive_id) -> None:
    for _ in range(100):
        store.append(drive_id, [b"x" * 50_000])


def test_a_disk_that_is_really_full(small_disk, path):
    """Told in a sentence; nothing is lost; it goes on when there is room again."""
    where = path if small_disk is None else small_disk / "casebook.sqlite"
    ballast = where.with_name("ballast")
    with Store.open(where) as store:
        case_id = store.new_case({"title": "full"})
        drive_id = store.begin_drive("listen", case_id)
        store.append(drive_id, [b"before" * 50])
        ballast.write_bytes(bytes(1_000_000))
        if small_disk is None:
            store.db.rows("PRAGMA max_page_count = 200")
        with pytest.raises(FileTrouble, match="no space left") as told:
            fill(store, drive_id)
        assert "free some space" in str(told.value).lower()
        kept = list(store.blocks(drive_id))
        if small_disk is not None:
            out = small_disk / "out"
            with pytest.raises(FileTrouble, match="(?i)free some space"):
                export_case(store, case_id, out)
            assert not out.exists() or not list(out.iterdir())
            with pytest.raises(FileTrouble):
                store.backup(small_disk / "copy.sqlite")
            assert not (small_disk / "copy.sqlite").exists()
        ballast.unlink()
        store.db.rows("PRAGMA max_page_count = 100000")
        store.append(drive_id, [b"after"])
        assert list(store.blocks(drive_id)) == [*kept, b"after"]
        assert all(line.passed for line in store.check())
