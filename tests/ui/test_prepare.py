"""What must be true before anything is connected: each with its word and a way to make it so."""

from __future__ import annotations

import dataclasses

import pytest

from locum.errors import LocumError, Refused, Remark
from locum.jobs.desk_facts import Setup, Snapshot
from locum.jobs.module_look import look_at_module
from locum.jobs.plan_look import PlanLook
from locum.jobs.prepare_line import changed_setup
from locum.jobs.prepare_view import rows
from locum.jobs.sensor_look import look_at_sensor
from locum.ui import words
from locum.ui.prepare_text import input_text, row_text, sensor_text
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(120)

NOTHING = Snapshot(
    Setup(), phase="failed",
    circuit_remarks=(Remark("sensor_assumed"), Remark("pull_up_assumed"), Remark("not_calibrated")),
    remarks=(Remark("no_such_port", "COM5", "a board", "none"),),
)  # fmt: skip


def test_every_row_has_a_word_and_whatever_is_not_ready_a_way_to_fix_it():
    made = rows(NOTHING, cautions_read=False)
    assert [row.name for row in made][:6] == [
        "cautions",
        "sensor",
        "module",
        "lines",
        "reach",
        "board",
    ]
    for row in made:
        assert row.word in words.PREPARED
        assert row.word == "ready" or row.fix, row
        assert row.name in row_text(row)
    assert all(row.word == "missing" for row in made)


def test_what_has_been_told_is_ready():
    told = dataclasses.replace(
        NOTHING, setup=Setup(reach="sensor", profile="warm_hold"), phase="recording", case_id="01C", board="pico 7",
        circuit_remarks=(), sheets={"sensor": "coolant_2k5", "module": "m", "vehicle": "van"},
    )  # fmt: skip
    plan = PlanLook("warm_hold", True, steps=1234, seconds=1800.0)
    assert {row.name for row in rows(told, True, plan) if row.word != "ready"} == set()


def test_a_case_that_nobody_can_reach_into_is_called_one_of_marks_alone_beforehand():
    nowhere = dataclasses.replace(NOTHING, setup=changed_setup(Setup(), "reach nowhere"))
    reach = next(row for row in rows(nowhere, True) if row.name == "reach")
    assert "marks alone" in reach.detail
    assert "more hours" in reach.detail


@pytest.mark.parametrize(
    ("line", "field", "value"),
    [("reach splice", "reach", "splice"), ("reach module plug", "reach", "module"),
     ("circuit tr", "circuit", "transmission"), ("vehicle parcel_van", "vehicle", "parcel_van"),
     ("vehicle none", "vehicle", None), ("board COM7", "board", "COM7"),
     ("Sensor 20C=2,5k,80C=310", "sensor", "20C=2500ohm,80C=310ohm"),
     ("module parcel_van_engine", "module", "parcel_van_engine")],
)  # fmt: skip
def test_a_typed_line_changes_one_thing(line, field, value):
    before = Setup(vehicle="other")
    after = changed_setup(before, line)
    assert getattr(after, field) == value
    assert dataclasses.replace(after, **{field: getattr(before, field)}) == before


@pytest.mark.parametrize(
    ("line", "says"),
    [("sensor airbag", "airbag"), ("circuit brake fluid", "lives"), ("module five 2k:2", "5.02"),
     ("module 12.0 1k:6", "6"), ("vehicle no_such_van", "no_such_van"), ("warm", "sensor 20C"),
     ("sensor 20C=2x,80C=y", "80C"), ("reach up", "nowhere")],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_words(line, says):
    with pytest.raises(LocumError, match=says):
        changed_setup(Setup(), line)


def test_a_forbidden_circuit_is_a_refusal_with_its_exit_code():
    with pytest.raises(Refused) as refused:
        changed_setup(Setup(), "circuit brake fluid")
    assert refused.value.exit_code == 1
    assert refused.value.remarks[0].code == "forbidden_circuit"


def test_all_faults_of_typed_readings_are_told_at_once():
    with pytest.raises(Refused) as refused:
        changed_setup(Setup(), "sensor 20C=2x,80C=y")
    assert len(refused.value.remarks) == 2


def test_the_curve_is_drawn_from_cold_to_hot_with_its_doubts():
    text = sensor_text("20C=2.5k,80C=310", "celsius")
    drawn = [line for line in text.split("\n") if line.rstrip().endswith("o")]
    at = [len(line.rstrip()) for line in drawn]
    assert at == sorted(at, reverse=True), "fewer ohms the hotter it is, further to the left"
    assert len(set(at)) == len(at)
    assert "two-point" in text or "beta" in text
    assert any(
        c == 20.0 and abs(ohm - 2500) < 1 for c, ohm, _ in look_at_sensor("20C=2.5k,80C=310").points
    )
    assert "68 F" in sensor_text("20C=2.5k,80C=310", "fahrenheit")


def test_what_the_module_will_see_is_told_with_currents():
    seen = look_at_module("parcel_van_engine", "20C=2.5k,80C=310")
    at = next(point for point in seen.points if point.celsius == 20.0)
    assert at.volts == pytest.approx(seen.open_v * 2500 / (2500 + seen.pull_up_ohm), rel=1e-3)
    assert at.milliamps == pytest.approx(1000 * seen.open_v / (2500 + seen.pull_up_ohm), rel=1e-3)
    assert at.believed_c == pytest.approx(20.0, abs=0.05)
    assert sum(at.wiper_ma) == pytest.approx(at.milliamps, rel=0.02), "side by side they share it"
    assert seen.worst_ma <= seen.plan_ma <= seen.rated_ma
    assert "assumed" in input_text(look_at_module(None, None), "celsius")


async def test_two_readings_of_the_module_typed_in_the_place_are_used_at_once(desk_app):
    async with desk_app(told={"sensor": "20C=2.5k,80C=310"}) as (app, pilot):
        await pilot.press("1", "a")
        await until(pilot, lambda: "cautions    ready" in screen_text(app))
        first = app.desk.snapshot().drive_id
        await pilot.press("enter", *"module 5,02 2.4k:3.55", "enter")
        await until(pilot, lambda: "mA through the sensor" in screen_text(app) or
                    app.desk.snapshot().drive_id != first, 20)  # fmt: skip
        await until(pilot, lambda: app.desk.snapshot().drive_id != first, 20)
        await until(pilot, lambda: "measured" in screen_text(app), 10)


def test_each_reading_is_told_as_understood_with_what_the_curve_leaves():
    two = sensor_text("68F=2,5k, 80 C=310", "celsius").split("\n")
    assert two[0] == "read 20.0 C with 2.50 k: the curve is 0.00 C off"
    assert two[1].startswith("read 80.0 C with 310 ohm")
    four = look_at_sensor("20C=2.5k,40C=1.3k,60C=600,80C=310").readings
    assert max(abs(off) for _, _, off in four) > 0.05


def test_readings_that_are_changed_over_are_doubted():
    assert "changed over" in sensor_text("82C=2.5k,20C=300", "celsius")
    assert "changed over" not in sensor_text("20C=2.5k,82C=300", "celsius")


async def test_the_curve_is_drawn_while_the_readings_are_typed(desk_app):
    async with desk_app() as (app, pilot):
        drive = app.desk.snapshot().drive_id
        await pilot.press("1", "enter", *"sensor 20C=2.5k,80C=310")
        await until(pilot, lambda: "read 80.0 C with 310 ohm" in screen_text(app))
        assert app.desk.snapshot().drive_id == drive, "nothing is taken over before Enter"
        await pilot.press("x")  # no resistance any more: the last picture stays
        assert "read 80.0 C with 310 ohm" in screen_text(app)


def test_a_case_is_called_by_its_title():
    told = dataclasses.replace(NOTHING, case_id="01CASE", case_title="Van, fan runs by itself")
    assert next(r.detail for r in rows(told, True) if r.name == "case") == "Van, fan runs by itself"


async def test_telling_where_one_can_reach_does_not_end_the_recording(desk_app):
    async with desk_app() as (app, pilot):
        drive = app.desk.snapshot().drive_id
        await pilot.press("1", "enter", *"reach module", "enter")
        await until(pilot, lambda: "only the signal wire" in " ".join(screen_text(app).split()))
        assert app.desk.snapshot().drive_id == drive
