"""Another logger's file beside a recording: its time found, its speed explaining a release."""

from __future__ import annotations

import numpy as np
import pytest

from locum.casebook.kept_logs import log_entries
from locum.casebook.store import Store
from locum.jobs.drive_logs import our_series
from locum.locations import asset_root
from recorded_book import copy_of_recorded

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")
THEIRS_LATE_S = 7.4
"""Their clock against ours; a log's time counts from its first row, so this must not matter."""
FIRST_ROW_S = 90.0
"""Our time of their first row: the offset that is to be found. [s]"""


@pytest.fixture
def driven(book, tmp_path_factory):
    """An hour on the virtual road: ``(drive, kick-outs)``."""
    _, drive = copy_of_recorded(book, str(tmp_path_factory.getbasetemp()), minutes=60)
    with Store.open(book) as store:
        (first,) = store.reviews(drive)
    kick_outs = sum(r["cause"] == "none" and not r["repeat"] for r in first.result["releases"])
    assert kick_outs >= 1, "the scenario is to have something to explain"
    return drive, kick_outs


def a_log(folder, column: str, t_s, values) -> str:
    path = folder / "log.csv"
    rows = "".join(f"{t:.3f},{v:.3f}\n" for t, v in zip(t_s, values, strict=True))
    path.write_text(f"time_s,{column}\n{rows}")
    return str(path)


def slow_log(folder) -> str:
    return a_log(folder, "Speed (mph)", range(0, 3700), [12.0] * 3700)


def test_a_speed_explains_releases_only_below_the_speed_given(locum, book, driven, tmp_path):
    drive, kick_outs = driven
    log = slow_log(tmp_path)
    kept = locum("drive", "log", drive, log, "--offset", "0", "--casebook", book)
    assert kept.code == 0
    assert kept.json["warnings"][0]["code"] == "speed_explains_nothing"
    assert kept.json["kick_outs"] == kick_outs
    for limit, left in (("15", kick_outs), ("45", 0)):
        again = locum("drive", "log", drive, log, "--offset", "0", "--lets-go-below", limit,
                      "--casebook", book)  # fmt: skip
        assert again.json["kick_outs"] == left, f"12 mph are 19.3 km/h, limit {limit}"
    assert again.json["causes"]["road"] == kick_outs
    with Store.open(book) as store:
        assert len(log_entries(store, drive)) == 1, "of the same file the newest entry counts"
        assert len(store.reviews(drive)) == 4, "the older results stay"
    reviewed = locum("drive", "review", drive, "--casebook", book).json
    assert [r["cause"] for r in reviewed["releases"]].count("road") == kick_outs


def test_the_offset_is_found_from_a_throttle_both_recorded(locum, book, driven, tmp_path):
    with Store.open(book) as store:
        t_s, volts = our_series(store, driven[0])["throttle"]
    grid = np.arange(FIRST_ROW_S, t_s[-1], 0.5)
    percent = np.interp(grid, t_s, volts) * 20.0
    log = a_log(tmp_path, "Throttle (%)", grid + THEIRS_LATE_S, percent)
    found = locum("drive", "log", driven[0], log, "--casebook", book)
    assert found.code == 0, found.talk
    assert found.json["offset_s"] == pytest.approx(FIRST_ROW_S, abs=4 * found.json["u_s"])
    assert found.json["correlation"] > 0.9


def test_without_a_common_channel_the_offset_is_asked_for(locum, book, driven, tmp_path):
    ran = locum("drive", "log", driven[0], slow_log(tmp_path), "--casebook", book)
    assert ran.code == 1
    assert "--offset" in ran.talk
    with Store.open(book) as store:
        assert log_entries(store, driven[0]) == []


def test_faults_of_the_log_are_told(locum, book, driven, tmp_path):
    plain = a_log(tmp_path, "Speed", range(0, 100), [12.0] * 100)
    assert locum("drive", "log", driven[0], plain, "--offset", "0", "--casebook", book).code == 1
    assert locum("drive", "log", driven[0], plain, "--offset", "0", "--unit", "Speed=km/h",
                 "--casebook", book).code == 0  # fmt: skip
    missing = str(tmp_path / "none.csv")
    assert locum("drive", "log", driven[0], missing, "--offset", "0", "--casebook", book).code == 3
    assert locum("drive", "log", driven[0], plain, "--unit", "mph", "--casebook", book).code == 2


def test_the_vehicle_sheet_tells_the_speed_and_the_older_review_stays(locum, book, tmp_path):
    shipped = asset_root("profiles") / "vehicles" / "parcel_van.toml"
    van = tmp_path / "van.toml"
    van.write_text(shipped.read_text("utf-8").replace("# road_below", "road_below"))
    case = locum("case", "new", "Van", *VAN[:4], "--vehicle", str(van), "--casebook", book)
    assert case.code == 0, case.talk
    ran = locum("listen", "--case", case.json["id"], "--minutes", "60", "--casebook", book).json
    assert ran["kick_outs"] >= 1
    kept = locum("drive", "log", ran["drive"], slow_log(tmp_path), "--offset", "0",
                 "--casebook", book).json  # fmt: skip
    assert kept["warnings"] == []
    assert kept["kick_outs"] == 0
    assert locum("drive", "review", ran["drive"], "--casebook", book).code == 0
    with Store.open(book) as store:
        first, *later = store.reviews(ran["drive"])
        causes = [r["cause"] for r in first.result["releases"] if not r["repeat"]]
    assert causes.count("none") == ran["kick_outs"], "what review said first is still there"
    assert len(later) == 2
