"""A casebook in memory, a drive in it, and a clock that only the test moves."""

import pytest

from locum.casebook.store import Store
from locum.recording.recorder import Recorder


class Hand:
    """A clock moved by hand. [s]"""

    def __init__(self) -> None:
        self.s = 100.0

    def now_s(self) -> float:
        return self.s


@pytest.fixture
def hand():
    return Hand()


@pytest.fixture
def store():
    with Store.open(":memory:") as opened:
        yield opened


@pytest.fixture
def recorder(store, hand):
    return Recorder(store, store.begin_drive("listen"), hand)
