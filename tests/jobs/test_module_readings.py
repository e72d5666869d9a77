"""The module measured one value at a time: what is understood, refused, found and kept."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from locum.casebook.store import Store
from locum.errors import LocumError, Misuse, Refused
from locum.jobs.desk_facts import Setup
from locum.jobs.module_kept import keep, look_at_readings, readings_of, typed_module
from locum.jobs.module_look import look_at_module
from locum.jobs.module_readings import ModuleReadings, volts_of
from locum.jobs.prepare_line import changed_setup
from locum.sheets.module import read_module

NOW = datetime(2026, 5, 1, 9, 30, 7, tzinfo=UTC)


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def answered(*lines: str) -> ModuleReadings:
    asked = ModuleReadings()
    for line in lines:
        asked.answer(line)
    return asked


@pytest.mark.parametrize(
    ("typed", "volts"),
    [("5.02", 5.02), ("5,02", 5.02), ("5.02V", 5.02), ("2370 mV", 2.37), ("0.5 volts", 0.5)],
)
def test_volts_are_understood_however_people_write_them(typed, volts):
    assert volts_of(typed) == pytest.approx(volts)


@pytest.mark.parametrize("typed", ["", "2.37k", "five", "-1", "230", "5 ohm"])
def test_what_is_no_reading_of_a_volt_meter_is_refused(typed):
    with pytest.raises(Refused, match=r"volts|leads"):
        volts_of(typed)


def test_open_and_one_resistor_give_the_pull_up_by_the_divider():
    """By hand: 2400 ohm (5.02/2.37 - 1) = 2683.5 ohm, u 20.7 ohm for 10 mV and 1 % half-widths."""
    asked = answered("5.02", "2.4k", "2.37")
    assert asked.result is not None
    assert asked.result.rth_ohm == pytest.approx(2400 * (5.02 / 2.37 - 1), rel=1e-6)
    assert asked.result.u_rth_ohm == pytest.approx(20.7, abs=0.1)
    assert "2.68 kohm" in asked.answers[-1].understood
    assert not asked.done
    assert "330" in asked.question.help, "a second stage is asked for"
    asked.answer("")
    assert asked.done


def test_a_small_resistor_shows_the_second_stage():
    """10 kohm cold, 1 kohm beside it hot: 909.1 ohm. 330 ohm then has 5 x 330/1239.1 V."""
    hot_ohm = 1 / (1 / 10_000 + 1 / 1_000)
    asked = answered("5.00", "10k", "2.5", "330", f"{5 * 330 / (330 + hot_ohm):.3f}")
    assert asked.result is not None
    assert asked.result.two_stage
    assert asked.result.rth_ohm == pytest.approx(10_000, rel=0.01)
    assert asked.result.stages[0]["rth_ohm"] == pytest.approx(hot_ohm, rel=0.01)
    assert "two stages" in asked.answers[-1].understood


def test_without_an_open_reading_two_resistors_are_asked_for():
    """909.09 ohm to 5 V: 2.6190 V into 1 kohm, 1.7742 V into 500 ohm."""
    asked = answered("", "1k", "2.6190")
    assert asked.result is None
    assert asked.question.enter == "", "Enter alone ends nothing yet"
    asked.answer("500")
    asked.answer("1.7742")
    assert asked.result is not None
    assert asked.result.rth_ohm == pytest.approx(909.09, rel=1e-3)
    assert asked.result.voc_v == pytest.approx(5.0, rel=1e-3)


@pytest.mark.parametrize(
    ("before", "wrong", "says"),
    [((), "five", "5.02"), (("5.02",), "2.4", r"2\.4k"), (("5.02",), "", "resistance"),
     (("5.02", "2.4k"), "2.37k", "number"), (("5.02", "2.4k"), "5.5", "less than"),
     (("5.02", "2.4k"), "0", "ignition")],
)  # fmt: skip
def test_a_wrong_answer_is_refused_and_nothing_is_lost(before, wrong, says):
    asked = answered(*before)
    question, lines = asked.question, list(asked.lines)
    with pytest.raises(LocumError, match=says):
        asked.answer(wrong)
    assert (asked.question, asked.lines) == (question, lines)
    assert asked.loads == []


def test_the_last_answer_is_taken_back_with_all_that_followed_from_it():
    asked = answered("5.02", "2.4k", "2.37", "330", "1.9")
    before = answered("5.02", "2.4k", "2.37", "330")
    assert asked.back()
    assert asked.question == before.question
    assert asked.loads == before.loads
    assert asked.result == before.result
    assert not ModuleReadings().back()


def test_a_battery_voltage_is_told_at_once_and_never_used():
    asked = answered("12.4", "2.4k", "6.2")
    assert "Never stand in" in asked.answers[0].understood
    assert "hot" in asked.question.help, "no smaller resistor is asked for there"
    setup = Setup()
    with pytest.raises(Refused, match="listening only"):
        keep(setup, asked.open_v, asked.loads, now=NOW)
    assert setup == Setup()


# -- kept ----------------------------------------------------------------------------------------


def test_what_was_measured_is_a_sheet_of_its_own_that_says_what_was_read():
    after = keep(Setup(), 5.02, [(2400.0, 2.37)], now=NOW)
    assert after.module is not None
    text = Path(after.module).read_text()
    assert "2026-05-01" in after.module
    assert "2.37 V across 2.40 kohm" in text
    assert read_module(text).source.rth_ohm == pytest.approx(2683.5, abs=0.1)
    later = keep(Setup(), 5.02, [(1000.0, 2.5)], now=NOW.replace(minute=31))
    assert later.module != after.module
    assert Path(after.module).read_text() == text


def test_with_a_case_readings_and_sheet_go_into_it(tmp_path):
    book = str(tmp_path / "book.sqlite")
    with Store.open(book) as store:
        case_id = store.new_case({"title": "Van"})
    keep(Setup(), 5.02, [(2400.0, 2.37)], case_id, book, NOW)
    keep(Setup(), 5.01, [(1000.0, 1.36)], case_id, book, NOW.replace(minute=31))
    with Store.open(book) as store:
        told = store.case(case_id).fields["module_readings"]
        sheet = store.sheet(case_id, "module")
    assert {name: row["value"] for name, row in told.items() if row} == {
        "plug open": 5.01, "across 1.00 kohm": 1.36,
    }, "an earlier measurement's readings are not mixed with these"  # fmt: skip
    assert sheet is not None
    assert read_module(sheet.text).source.rth_ohm == pytest.approx(
        1000 * (5.01 / 1.36 - 1), rel=1e-4
    )


def test_readings_that_forbid_standing_in_are_kept_with_the_case_all_the_same(tmp_path):
    book = str(tmp_path / "book.sqlite")
    with Store.open(book) as store:
        case_id = store.new_case({"title": "Van"})
    with pytest.raises(Refused):
        keep(Setup(), 12.4, [(2400.0, 6.2)], case_id, book, NOW)
    with Store.open(book) as store:
        assert store.case(case_id).fields["module_readings"]["plug open"]["value"] == 12.4
        assert store.sheet(case_id, "module") is None


def test_readings_typed_in_one_line_mean_the_same():
    assert readings_of("5,02 2k4:2.37 330:0.61V") == (5.02, [(2400.0, 2.37), (330.0, 0.61)])
    assert typed_module(Setup(), "5.02 2.4k:2.37", NOW) == keep(
        Setup(), 5.02, [(2400.0, 2.37)], now=NOW
    )


def test_all_faults_of_a_typed_line_are_told_at_once():
    with pytest.raises(Misuse) as refused:
        readings_of("five 2k4 3k:x")
    found = refused.value.remarks[0].found
    assert all(word in found for word in ("'five'", "no colon", "'x'"))


# -- what it means for the stand-in --------------------------------------------------------------


def test_looking_at_readings_keeps_nothing(tmp_path):
    from locum.jobs.circuit import open_circuit

    seen = look_at_readings("5.02 2.4k:2.37", open_circuit("20C=2.5k,80C=310"))
    assert seen.pull_up_ohm == pytest.approx(2683.5, abs=0.1)
    assert not list((tmp_path / "data").rglob("*.toml"))


def test_wipers_share_the_current_and_stay_within_what_plans_allow():
    seen = look_at_module("parcel_van_engine", "20C=2.5k,80C=310")
    hot_branches_a = 0
    for at in seen.points:
        sensor_ma = 1000 * seen.open_v / (seen.pull_up_ohm + at.volts / (at.milliamps / 1000))
        assert at.milliamps == pytest.approx(sensor_ma, rel=1e-6), (
            "one current through pull-up and sensor"
        )
        assert max(at.wiper_ma) <= seen.plan_ma
        assert sum(at.wiper_ma) <= at.milliamps * 1.01
        hot_branches_a += sum(at.wiper_ma) < 0.9 * at.milliamps
        assert at.believed_c == pytest.approx(at.celsius, abs=0.05)
    assert hot_branches_a, "hot, the two switched resistors carry the rest"


def test_what_the_board_cannot_be_is_said_to_be_out_of_reach():
    seen = look_at_module("parcel_van_engine", "ntc_10k_b3977")
    beyond = [at for at in seen.points if at.believed_c is None]
    within = [at for at in seen.points if at.believed_c is not None]
    assert within
    assert all(not at.wiper_ma for at in beyond)


def test_typed_readings_and_where_one_can_reach_go_into_the_case_in_use(tmp_path):
    book = str(tmp_path / "book.sqlite")
    with Store.open(book) as store:
        case_id = store.new_case({"title": "Van"})
    setup = Setup(case=case_id[:20], casebook=book)
    after = changed_setup(changed_setup(setup, "reach splice"), "module 5.02 2.4k:2.37")
    assert after.reach == "splice"
    with Store.open(book) as store:
        fields = store.case(case_id).fields
    assert fields["tap"]["end"] == "module", "beyond a splice there is wiring as well"
    assert fields["module_readings"]["plug open"]["value"] == 5.02
