"""The invented van's sheets say what its world does."""

from random import Random

import pytest

from locum.locations import asset_root
from locum.sheets.module import read_module
from locum.sheets.vehicle import read_vehicle
from locum.virtual.scenarios import make_demo_world, van_module
from locum.virtual.world import LINE_BRAKE, LINE_CLUTCH, LINE_FAN, LINE_IGNITION


def sheet(kind: str, name: str) -> str:
    return (asset_root("profiles") / kind / f"{name}.toml").read_text(encoding="utf-8")


def test_module_sheet_matches_the_virtual_module():
    book = read_module(sheet("modules", "parcel_van_engine"))
    real = van_module(Random(1))
    assert real.open_v == pytest.approx(book.source.voc_v, abs=0.05)
    assert real.pull_up_ohm[0] == pytest.approx(book.source.rth_ohm, rel=0.011)
    for name in (
        "filter_s",
        "confirm_s",
        "low_v",
        "high_v",
        "refuse_below_c",
        "refuse_above_c",
        "hysteresis_c",
        "delay_s",
    ):
        assert getattr(real, name) == getattr(book, name), name


def test_vehicle_sheet_names_the_lines_by_their_true_polarity(run):
    book = read_vehicle(sheet("vehicles", "parcel_van"))
    by_input = {line.input: line for line in book.lines}
    assert by_input[LINE_CLUTCH].role == "commanded"
    assert by_input[LINE_BRAKE].role == "brake"
    assert by_input[LINE_IGNITION].role == "ignition"
    world = make_demo_world(1)
    world.tell("engine_start", cold_c=85.0)
    world.tell("drive")
    run(world, 400)

    def is_on(line: int) -> bool:
        return (world.levels[line] == 1) == (by_input[line].active == "high")

    assert is_on(LINE_CLUTCH) == world.module.locked
    assert is_on(LINE_FAN) == world.module.fan
    assert is_on(LINE_IGNITION)
    rule, fault = book.exposure, world.truth.facts.fault
    assert (rule.after_min, rule.above_c) == (fault.after_min, fault.above_c)


def test_two_stage_sheet_reads_and_is_two_stage():
    book = read_module(sheet("modules", "two_stage_example"))
    assert len(book.source.stages) == 1
