"""A long recording leaves and comes in a piece at a time: memory does not grow with it."""

import tracemalloc
from contextlib import contextmanager

import numpy as np
import pytest

from locum.casebook.exchange import import_case
from locum.casebook.export import export_case
from locum.casebook.merge import merge
from locum.casebook.store import Store
from locum.review import chunk

BLOCK = 4096
BLOCKS = 12_500
MOST_MB = 12.0
"""For a record of 50 MB: a few hundred blocks, one chunk as text, and what Python needs besides."""


@contextmanager
def at_most(megabytes: float):
    tracemalloc.start()
    yield
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak / 1e6 < megabytes


def decode(blocks):
    """Rows enough that the tables of people are as large as the record."""
    for number, _ in enumerate(blocks):
        if number % 100 == 0:
            samples = np.zeros(1000, chunk.SAMPLE)
            samples["t_ms"] = np.arange(1000) + number * 1000
            yield chunk.Chunk(number * 1000, number * 1000 + 1000, samples=samples)


@pytest.fixture(scope="module")
def long_drive(tmp_path_factory):
    path = tmp_path_factory.mktemp("long") / "casebook.sqlite"
    noise = np.random.default_rng(5).bytes(BLOCK * 250)
    some = [noise[at : at + BLOCK] for at in range(0, len(noise), BLOCK)]
    with Store.open(path) as store:
        case_id = store.new_case({"title": "a long way"})
        drive_id = store.begin_drive("quiet", case_id)
        for _ in range(BLOCKS // len(some)):
            store.append(drive_id, some)
        store.end_drive(drive_id)
    return path, case_id, drive_id


def test_export_and_import_of_50_mb_stay_flat(long_drive, tmp_path):
    path, case_id, drive_id = long_drive
    with Store.open(path) as store, Store.open(tmp_path / "other.sqlite") as other:
        with at_most(MOST_MB):
            made = export_case(store, case_id, tmp_path, decode=decode)
        with at_most(MOST_MB):
            import_case(other, made.with_name(made.name + ".zip"))
        assert other.drive(drive_id).bytes == BLOCK * BLOCKS
        assert (made / "checksums.txt").exists()


def test_merging_of_50_mb_stays_flat(long_drive, tmp_path):
    path, _, drive_id = long_drive
    with Store.open(tmp_path / "other.sqlite") as other:
        with at_most(MOST_MB):
            merge(other, path)
        assert other.drive(drive_id).blocks == BLOCKS
