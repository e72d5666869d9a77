"""The firmware on CPython: fakes for what only a board has."""

import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
FIRMWARE = HERE.parents[1] / "firmware_micropython"
FAKES = ("machine", "faketime", "fakemicropython", "fakeboard", "bench", "micropython")


@pytest.fixture
def fakes(monkeypatch):
    """Fake modules and the firmware's drivers, imported afresh and taken away again."""
    for path in (FIRMWARE, HERE, HERE / "fakes"):
        monkeypatch.syspath_prepend(str(path))
    real_time = sys.modules["time"]
    import fakeboard

    yield fakeboard
    sys.modules["time"] = real_time
    for name in list(sys.modules):
        if name.split(".")[0] in (*FAKES, "drivers"):
            del sys.modules[name]


@pytest.fixture
def pico(fakes, tmp_path):
    """A reference board that has just been powered up."""
    return fakes.FakeBoard(str(tmp_path / "store"))
