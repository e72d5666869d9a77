"""What a board says of itself, in rows: its self-test, its calibration's age and span; and the plan's row."""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime, timedelta

import pytest

from locum.bodies.virtual_hands import VirtualHands
from locum.jobs.circuit import open_circuit
from locum.jobs.connection import connect
from locum.jobs.desk_facts import Setup, Snapshot
from locum.jobs.plan_look import at_hand, look_at_plan
from locum.jobs.prepare_board import board_rows
from locum.jobs.prepare_view import rows
from locum.jobs.self_test import FAULTS, look_at_itself, told
from locum.physics.calibration import OLD_DAYS, SPAN_K, STALE_DAYS

MADE = datetime(2026, 5, 1, 9, 30, tzinfo=UTC)
VAN = open_circuit("parcel_van_coolant", "parcel_van_engine", "parcel_van")


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


# -- self-test -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "says", "fix"),
    [("potentiometer chip 2 read back [85, 0, 4]", "potentiometer 2", "unplug the vehicle"),
     ("converter does not answer", "converter", "wires"),
     ("converter reads half its reference as 1900 of 4096", "1900", "reference"),
     ("potentiometer supply 4900 mV", "4900 mV", "regulator"),
     ("USB supply 4100 mV", "4100 mV", "cable"),
     ("relay at rest: ohmmeter 1200 with nothing in, 1180 with P1 in", "relay", "unplug the vehicle"),
     ("standing in: end it first", "stand-in is connected", "ease back"),
     ("smoke", "smoke", "hardware/README.md")],
)  # fmt: skip
def test_each_fault_the_board_can_name_has_words_and_a_way_to_fix_it(text, says, fix):
    found = told(False, text)
    assert not found.passed
    assert says in found.words
    assert fix in found.faults[0].fix


def test_several_faults_are_told_one_by_one():
    found = told(False, "potentiometer chip 1 read back []; USB supply 4100 mV")
    assert len(found.faults) == 2
    row = board_rows(snapshot(self_test=found), "celsius", MADE)[1]
    assert (row.name, row.word) == ("self-test", "refused")
    assert len(row.fix.split("\n")) == 3


def test_the_faults_are_those_that_the_boards_programs_say():
    """Every text that the Pico's and the Pi's own tests can give is one of ours."""
    import re
    from pathlib import Path

    root = Path(__file__).resolve().parents[2]
    source = (root / "firmware_micropython/drivers/selftest.py").read_text()
    source += (root / "host/locum/bodies/pi_hands.py").read_text()
    said = re.findall(r'wrong\.append\(\s*f?"([^"]+)"', source) + [
        "potentiometer supply 1",
        "USB supply 1",
    ]
    assert len(said) >= 7
    for text in said:
        if text.startswith("%s"):  # named in the table just above it in the source
            continue
        text = re.sub(r"%[ds]|\{[^}]*\}", "1", text)
        assert any(re.search(pattern, text) for pattern, _, _ in FAULTS), text


def test_a_virtual_board_looks_at_itself_at_rest_and_only_there():
    connection = connect("virtual", VAN.board, speed=0)
    try:
        found = look_at_itself(connection.board, connection.board.fetch().state)
        connection.clock.wait(1.0)  # for the monitor to see something
        assert connection.board.fetch().source == "real"
        assert found is not None
        assert found.passed
        assert look_at_itself(connection.board, "holding") is None
    finally:
        connection.close()


def test_a_failed_test_is_not_taken_for_the_next_commands_refusal(monkeypatch):
    monkeypatch.setattr(VirtualHands, "self_test", lambda _self: (False, "USB supply 4100 mV"))
    connection = connect("virtual", VAN.board, speed=0)
    try:
        connection.clock.wait(1.0)
        found = look_at_itself(connection.board, "rest")
        assert found is not None
        assert not found.passed
        connection.board.clear_record()  # would raise what stood in the error queue
    finally:
        connection.close()


# -- the record without this computer ----------------------------------------------------------------


def record_row(**changes):
    return next(r for r in board_rows(snapshot(**changes), "celsius", MADE) if r.name == "record")


def test_how_long_the_board_keeps_the_record_alone_is_said_where_a_drive_is_prepared():
    connection = connect("virtual", VAN.board, speed=0)
    try:
        connection.clock.wait(1.0)
        quiet_s, busiest_s = connection.board.record_lasts_s()
    finally:
        connection.close()
    assert (quiet_s // 60, busiest_s) == (61, 8), "firmware_micropython/README.md, 6000 slots"
    row = record_row(kept_alone_s=(quiet_s, busiest_s))
    assert (row.word, row.detail) == ("ready", "written down; alone the board keeps 8 s to 61 min")
    assert "alone" not in record_row().detail


def test_a_record_that_cannot_be_written_says_nothing_else():
    glance = dataclasses.replace(snapshot().glance, trouble="the disk is full")
    row = record_row(glance=glance, kept_alone_s=(3660, 8))
    assert (row.word, row.detail) == ("refused", "the disk is full")


# -- calibration ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def calibrated():
    """The van's circuit with the virtual board's own tables, made on ``MADE``."""
    from locum.jobs.calibrating import measure_board

    connection = connect("virtual", VAN.board, speed=0)
    try:
        made, _ = measure_board(connection, VAN.board)
    finally:
        connection.close()
    assert made is not None
    made = dataclasses.replace(made, date_utc=MADE.isoformat(), ambient_c=23.0)
    return dataclasses.replace(VAN, calibration=made)


def snapshot(**changes) -> Snapshot:
    from locum.jobs.glance import Glance

    fields = {field.name: None for field in dataclasses.fields(Glance)}
    look = Glance(**{**fields, "state": "rest", "source": "real", "node_v": 1.2, "trouble": "",
                     "supply": "host", "board_c": changes.pop("board_c", None)})  # fmt: skip
    return dataclasses.replace(
        Snapshot(Setup(), phase="recording", glance=look, board="p 7"), **changes
    )


def calibrated_row(circuit, after: timedelta, board_c=None):
    found = board_rows(snapshot(circuit=circuit, board_c=board_c), "celsius", MADE + after)
    return next(row for row in found if row.name == "calibrated")


def test_a_calibration_is_told_with_its_age_and_the_span_it_holds_in(calibrated):
    row = calibrated_row(calibrated, timedelta(days=3, hours=2), board_c=31.0)
    assert row.word == "ready"
    assert "2026-05-01" in row.detail
    assert "3 days ago" in row.detail
    assert f"{23 - SPAN_K:.0f} C to {23 + SPAN_K:.0f} C" in row.detail
    assert "now 31 C" in row.detail
    assert not row.doubt


@pytest.mark.parametrize(
    ("days", "board_c", "word", "doubted"),
    [(1, None, "ready", False), (OLD_DAYS + 1, None, "ready", True), (1, 23 + SPAN_K + 2, "ready", True),
     (STALE_DAYS + 1, None, "refused", False), (-3, None, "refused", False)],
)  # fmt: skip
def test_an_old_a_stale_or_a_far_calibration_says_so(calibrated, days, board_c, word, doubted):
    row = calibrated_row(calibrated, timedelta(days=days), board_c)
    assert row.word == word
    assert bool(row.doubt) == doubted
    assert "K: the board measures itself" in (row.doubt or row.fix) or (word, doubted) == (
        "ready",
        False,
    )


# -- the plan ------------------------------------------------------------------------------------


def plan_row(profile, look):
    now = dataclasses.replace(snapshot(circuit=VAN), setup=Setup(profile=profile))
    return next(row for row in rows(now, True, look, now=MADE) if row.name == "plan")


def test_a_chosen_plan_tells_its_steps_its_length_and_its_span():
    """warm_hold.toml: 20 minutes about 88 degC."""
    look = look_at_plan("warm_hold", VAN)
    row = plan_row("warm_hold", look)
    assert row.word == "ready"
    assert "20 min" in row.detail
    assert f"{look.steps:,} steps" in row.detail
    assert "88 C" in row.detail


def test_a_plan_that_this_board_cannot_play_is_refused_in_words(tmp_path):
    path = tmp_path / "hot.toml"
    path.write_text(
        'schema = 1\ntitle = "x"\nunit = "celsius"\n[[segment]]\nkind = "hold"\nat = 190.0\nminutes = 5\n'
    )
    look = look_at_plan(str(path), VAN)
    assert not look.ok
    row = plan_row(str(path), look)
    assert row.word == "refused"
    assert len(row.detail) > 40
    assert row.fix


def test_what_cannot_be_read_is_a_refusal_and_no_crash(tmp_path):
    path = tmp_path / "odd.toml"
    path.write_text("schema = 1\nnonsense")
    assert look_at_plan(str(path), VAN).refusals


def test_no_plan_is_needed_and_one_being_looked_at_says_so():
    assert "not needed" in plan_row(None, None).detail
    assert "being looked at" in plan_row("warm_hold", None).detail


def test_sheets_at_hand_have_names_and_titles_and_the_workshops_own_come_first(tmp_path):
    folder = tmp_path / "data/locum/sheets/modules"
    folder.mkdir(parents=True)
    (folder / "zz.toml").write_text('title = "Own one"\n')
    found = at_hand("module")
    assert (found[0].name, found[0].title, found[0].origin) == ("zz", "Own one", "workshop")
    assert "parcel_van_engine" in [one.name for one in found]
