"""Readings of a calibration that was stopped on the way, so that a test need not take all of them."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from functools import cache

import pytest

from locum.jobs import connection as opening
from locum.jobs.calibration_readings import Measuring
from locum.jobs.circuit import open_board
from locum.locations import data_folder

READINGS = 2862
"""Of the reference board's sweep."""


@cache
def all_read(home: str) -> dict:
    """What the board of seed 1 reads of itself, as a calibration keeps it; read once a run."""
    with pytest.MonkeyPatch.context() as surroundings:
        surroundings.setenv("XDG_DATA_HOME", home)
        sheet = open_board(None)[0]
        measuring = Measuring(opening.connect("virtual", sheet, 1), sheet)
        measuring.read(READINGS)
        measuring.keep()
        return json.loads((data_folder() / "calibration-V0001.json").read_text())


def keep_readings(count: int, home: str) -> None:
    """So many readings were kept when an earlier calibration of the virtual board was stopped."""
    made = all_read(home)
    left = {k: [v if n < count else None for n, v in enumerate(made[k])] for k in ("on", "off")}
    kept = {**made, **left, "began_utc": datetime.now(UTC).isoformat()}
    data_folder().mkdir(parents=True, exist_ok=True)
    (data_folder() / "calibration-V0001.json").write_text(json.dumps(kept))
