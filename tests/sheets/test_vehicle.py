"""The vehicle sheet: what it takes, and every fault at once."""

import pytest

from locum.errors import Refused
from locum.locations import asset_root
from locum.sheets.vehicle import read_vehicle

SHEET = """schema = 1
title = "Halden P4"
road_below_kmh = 45
[[line]]
input = 1
name = "clutch"
role = "commanded"
[[state]]
name = "locked"
lines = { clutch = "on" }
top = true
[exposure]
after_min = 10
states = ["locked"]
"""


def test_speed_below_which_the_module_lets_go_by_design():
    assert read_vehicle(SHEET).road_below_kmh == 45.0
    assert read_vehicle(SHEET.replace("road_below_kmh = 45\n", "")).road_below_kmh is None
    with pytest.raises(Refused, match="road_below_kmh"):
        read_vehicle(SHEET.replace("= 45", "= -3"))


def test_faults_are_told_together_with_their_lines():
    bad = SHEET.replace('"commanded"', '"comanded"').replace('["locked"]', '["lokced"]')
    bad = bad.replace("input = 1", "input = 9").replace("after_min", "after_mins")
    with pytest.raises(Refused) as told:
        read_vehicle(bad)
    where = " ".join(remark.where for remark in told.value.remarks)
    assert all(f"line {line}" in where for line in (5, 7, 13, 14)), told.value


def test_patterns_that_cannot_be_told_apart_are_refused():
    twice = SHEET + '[[state]]\nname = "open"\nlines = { clutch = "on" }\n'
    with pytest.raises(Refused, match="can be the same pattern"):
        read_vehicle(twice)
    with pytest.raises(Refused, match="top"):
        read_vehicle(SHEET.replace("top = true\n", ""))


def test_shipped_vehicle_reads():
    text = (asset_root("profiles") / "vehicles" / "parcel_van.toml").read_text("utf-8")
    van = read_vehicle(text, "parcel_van")
    assert van.exposure.states == ("top gear, clutch locked",)
    assert van.road_below_kmh is None
    assert read_vehicle(text.replace("# road_below", "road_below")).road_below_kmh == 45.0
