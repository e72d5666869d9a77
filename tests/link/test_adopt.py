"""A board found again: what it is, what it did meanwhile, what the record must show."""

from dataclasses import replace

import pytest

from locum.link.adopt import T_MODULUS_MS, Known, reconcile

BEFORE = Known("E661AA", 77, 100_000, "running", "sweep", 0x1234, lost=2)


def codes(adoption):
    return [remark.code for remark in adoption.remarks]


def test_our_plan_that_still_runs_is_resumed_and_the_gap_told():
    now = replace(BEFORE, t_ms=112_500)
    adoption = reconcile(BEFORE, now, our_plan_crc=0x1234)
    assert adoption.verdict == "resume"
    assert (adoption.gap.length_ms, adoption.gap.records_lost) == (12_500, 0)
    assert codes(adoption) == ["link_gap"]
    assert "12.5 s" in adoption.remarks[0].text


def test_the_gap_is_right_over_the_wrap_of_the_boards_clock():
    before = replace(BEFORE, t_ms=T_MODULUS_MS - 500)
    assert reconcile(before, replace(before, t_ms=1500), 0x1234).gap.length_ms == 2000


def test_records_that_could_not_be_kept_are_counted():
    adoption = reconcile(BEFORE, replace(BEFORE, t_ms=200_000, lost=42), 0x1234)
    assert adoption.gap.records_lost == 40
    assert "40 records" in adoption.remarks[0].text


@pytest.mark.parametrize("state", ["rest", "ready", "tripped"])
def test_a_board_that_came_home_by_itself_has_ended(state):
    adoption = reconcile(BEFORE, replace(BEFORE, state=state, cause="silence"), 0x1234)
    assert adoption.verdict == "ended"
    assert "silence" in adoption.remarks[-1].text


def test_a_board_that_rested_before_and_rests_now_is_simply_resumed():
    before = replace(BEFORE, state="rest", plan_crc=None, plan_name="")
    assert reconcile(before, replace(before, t_ms=150_000)).verdict == "resume"


def test_a_restart_makes_times_incomparable():
    now = replace(BEFORE, boot_id=78, t_ms=900, state="rest", lost=5, cause="watchdog")
    adoption = reconcile(BEFORE, now, 0x1234)
    assert adoption.verdict == "restarted"
    assert adoption.gap.length_ms is None
    assert adoption.gap.records_lost == 5
    assert "watchdog" in adoption.remarks[-1].text


def test_another_board_is_not_compared_any_further():
    adoption = reconcile(BEFORE, replace(BEFORE, serial_number="E662BB", boot_id=1), 0x1234)
    assert adoption.verdict == "stranger"
    assert codes(adoption) == ["another_board"]


def test_another_plan_is_only_watched():
    adoption = reconcile(BEFORE, replace(BEFORE, plan_crc=9, plan_name="hold"), 0x1234)
    assert adoption.verdict == "watch"
    assert "'hold'" in adoption.remarks[-1].text


def test_a_newer_protocol_is_only_watched():
    adoption = reconcile(BEFORE, replace(BEFORE, protocol=2), 0x1234)
    assert (adoption.verdict, codes(adoption)[-1]) == ("watch", "firmware_newer")
