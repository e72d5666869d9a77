"""A casebook in memory, one on disk, and a clock that only the test moves."""

from datetime import UTC, datetime, timedelta

import pytest

from locum.casebook.export import add_case
from locum.casebook.parcel import Parcel
from locum.casebook.store import Store


class Clock:
    """A wall clock for tests; each look moves it on by a millisecond."""

    def __init__(self) -> None:
        self.time = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.time += timedelta(milliseconds=1)
        return self.time

    def set(self, **parts) -> None:
        self.time = self.time.replace(**parts)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(clock):
    with Store.open(":memory:", now=clock) as opened:
        yield opened


@pytest.fixture
def path(tmp_path):
    return tmp_path / "casebook.sqlite"


@pytest.fixture
def files_of(tmp_path):
    """An export as a dictionary: path inside it to content."""
    made = iter(range(100))

    def export(store, case_id, **options) -> dict[str, bytes]:
        folder = tmp_path / f"export-{next(made)}"
        add_case(store, case_id, Parcel(folder), **options)
        return {
            path.relative_to(folder).as_posix(): path.read_bytes()
            for path in folder.rglob("*")
            if path.is_file()
        }

    return export
