"""The link is pulled during a recording: looked for, found under any port, told apart, told about."""

from __future__ import annotations

import pytest

from locum.errors import LinkTrouble
from locum.jobs import standing
from pulled_cable import Rig, whole


@pytest.fixture
def rig(book):
    made = Rig(book)
    yield made
    made.store.close()


def test_a_listening_board_is_taken_up_again_and_nothing_is_missing(rig):
    live = rig.live
    live.wait(10)
    rig.pull_for(30)
    live.tick()
    assert live.link.lost
    assert "real sensor is connected" in live.link.board_does
    assert "plug it in again" in live.link.what_next
    live.wait(40)
    assert live.link.connection == "adopted"
    assert 29 <= live.link.since_s <= 33
    samples, gaps = rig.record()
    assert whole(samples)
    assert not gaps
    assert samples[-1][0] > 45_000
    live.recorder.save()
    told = rig.store.drive(live.drive_id).gaps
    assert "answers again" in told[0].why
    assert "fetched now" in told[0].why
    live.wait(70)
    assert live.link.connection == "connected"
    assert live.link.text == ""
    assert "link_gap" in {r.code for r in live.link_remarks}


def test_a_renumbered_port_is_followed_by_the_serial_number(rig):
    rig.live.wait(3)
    rig.pull_for(5, place="COM9")
    rig.live.wait(20)
    assert rig.live.link.connection == "adopted"
    assert rig.live.link.place == "COM9"
    assert "port_renamed" in {r.code for r in rig.live.link_remarks}


def test_a_stand_in_goes_home_by_itself_and_that_is_told(rig):
    rig.stand_in()
    live = rig.live
    rig.pull_for(40)
    live.tick(0.25)
    first = live.link.board_does
    assert "eases back" in first
    live.wait(45)
    assert live.link.connection == "adopted"
    assert live.came_home
    assert "eased back by itself" in live.link.board_does
    assert "Start again" in live.link.what_next
    assert live.status.source == "real"
    drive = rig.store.drive(live.drive_id)
    assert [s.connected for s in drive.stretches] == ["real", "stand_in", "real"]
    samples, _ = rig.record()
    assert whole(samples)


def test_a_short_gap_leaves_the_stand_in_where_it_is(rig):
    rig.stand_in()
    rig.pull_for(1.0)
    rig.live.wait(4)
    assert rig.live.link.connection == "adopted"
    assert rig.live.status.state == "holding"
    assert not rig.live.came_home
    assert "stood in all the time" in rig.live.link.board_does


def test_the_key_for_the_real_sensor_is_remembered_while_the_board_is_lost(rig):
    rig.stand_in()
    live = rig.live
    rig.pull_for(2.0)
    live.tick(0.25)
    live.board.real_sensor_now()
    live.tick(0.25)
    assert "asked for as soon as it answers" in live.link.what_next
    live.wait(3)
    live.tick()
    assert live.status.state == "rest"
    assert live.status.source == "real"


def test_other_orders_are_refused_while_the_board_is_lost(rig):
    rig.live.wait(2)
    rig.pull_for(30)
    rig.live.tick()
    with pytest.raises(LinkTrouble):
        rig.live.board.set_resistance(1000.0)


def test_a_board_that_started_anew_is_told_apart(rig):
    live = rig.live
    live.wait(10)
    rig.pull_for(8)
    rig.restart()
    live.wait(20)
    assert live.link.connection == "restarted"
    assert "started anew" in live.link.board_does
    assert live.connection.identity.boot_id == rig.body.hands.boot_id
    assert rig.record()[1][0][0] == 10_000
    before = live.now_ms
    live.wait(5)
    assert live.now_ms > before + 4000


def test_another_board_is_left_alone(rig):
    live = rig.live
    live.wait(2)
    rig.pull_for(2)
    serial = rig.body.hands.serial
    rig.body.hands.serial = "V9999"
    for _ in range(10):
        live.tick(1.0)
    assert live.link.lost
    assert "another_board" in {r.code for r in live.link_remarks}
    rig.body.hands.serial = serial
    live.wait(5)
    assert live.link.connection == "adopted"


def test_a_board_that_never_comes_back_ends_the_recording_in_plain_words(rig):
    rig.live.wait(2)
    rig.live.tether.give_up_s = 60.0
    rig.plug.pull()
    with pytest.raises(LinkTrouble, match="other end has closed"):
        rig.live.wait(120)
    rig.live.end("link_lost")
    assert rig.store.drive(rig.live.drive_id).how == "link_lost"


@pytest.mark.parametrize("write", range(1, 12))
def test_a_cable_may_be_pulled_in_the_middle_of_any_question(rig, write):
    """What was handed over before is kept; what was under way is counted, never papered over."""
    live = rig.live
    live.wait(3)
    rig.plug.pull_at_write = rig.plug.writes + write
    rig.clock.at(rig.body.elapsed_ms / 1000 + 15, lambda: setattr(rig.plug, "plugged", True))
    live.wait(25)
    assert live.link.connection in ("adopted", "connected")
    samples, gaps = rig.record()
    missing = sum(row[2] for row in gaps)
    assert whole(samples) == (missing == 0)


def test_marks_made_while_the_board_is_lost_keep_their_time(rig):
    live = rig.live
    live.wait(10)
    rig.pull_for(20)
    live.tick()
    for _ in range(10):
        live.tick(1.0)
    live.mark("key")
    live.wait(20)
    mark = rig.store.drive(live.drive_id).marks[0]
    assert 18_000 <= mark.t_ms <= 23_000
    assert any(abs(t - mark.t_ms) < 2000 for t, _ in live.findings.marks)


def test_a_laptop_that_slept_is_recognised_and_the_board_adopted(rig):
    rig.stand_in()
    live = rig.live
    rig.clock.sleep(300)
    live.tick()
    assert live.link.connection == "adopted"
    assert live.link.slept_s == pytest.approx(300, abs=2)
    assert "computer slept for 300 s" in live.link.happened
    assert "real sensor" in live.link.board_does
    assert live.came_home
    assert "computer_slept" in {r.code for r in live.link_remarks}
    samples, _ = rig.record()
    assert samples[-1][0] > 300_000


def test_a_clock_that_was_set_is_no_sleep(rig):
    live = rig.live
    live.wait(3)
    rig.clock.ahead_s += 3600
    live.tick()
    assert live.link.connection == "connected"
    assert {r.code for r in live.link_remarks} == {"computer_clock_set"}


def test_a_plan_that_runs_on_is_adopted_running(rig):
    from locum.jobs.profiles import plan_of
    from locum.planning.timeline import line
    from locum.sheets.profile import ProfileSheet

    live = rig.live
    standing.prepare(live)
    profile = ProfileSheet("long", "long", "celsius", (), on_silence="finish")
    span = line("long", "hold", (0, 70), (900, 70))
    spans = standing.with_way_in(live, [span], False)
    standing.run_plan(live, plan_of(profile, live.circuit, False, spans=spans))
    live.wait(20)
    assert live.status.state == "running"
    rig.pull_for(120)
    live.tick()
    assert "plays its plan to the end" in live.link.board_does
    live.wait(130)
    assert live.link.connection == "adopted"
    assert live.status.state == "running"
    assert "went on with its plan" in live.link.board_does
    samples, _ = rig.record()
    assert whole(samples)


def test_without_a_second_way_to_the_board_a_lost_link_is_an_error(rig):
    rig.live.wait(1)
    rig.link.reach = None
    rig.live.board.tethered = False
    rig.plug.pull()
    with pytest.raises(LinkTrouble):
        rig.live.wait(5)
