"""The laptop is shut while a plan runs on: what the board kept is fetched later, or rescued."""

from __future__ import annotations

import pytest

from locum.errors import LinkTrouble, Refused, Remark
from locum.jobs import kept_on_board, standing
from locum.jobs.live import begin
from locum.jobs.profiles import plan_of
from locum.jobs.stored_record import chunks_of
from locum.planning.timeline import line
from locum.sheets.profile import ProfileSheet
from pulled_cable import Rig, plugged_again, whole


@pytest.fixture
def rig(book):
    made = Rig(book)
    yield made
    made.store.close()


def run_on(rig, minutes=10):
    """A plan that runs on without a computer; then the laptop is shut for good."""
    live = rig.live
    standing.prepare(live)
    profile = ProfileSheet("long", "long", "celsius", (), on_silence="finish")
    spans = standing.with_way_in(live, [line("long", "hold", (0, 70), (60 * minutes, 70))], False)
    standing.run_plan(live, plan_of(profile, live.circuit, False, spans=spans))
    live.wait(20)
    live.recorder.save()
    rig.plug.pull()


def test_what_was_kept_is_fetched_without_a_gap(rig):
    run_on(rig)
    rig.body.advance(20 * 60_000)
    link = plugged_again(rig)
    drive = kept_on_board.maybe_left(rig.store, link)
    assert drive.id == rig.live.drive_id
    kept = kept_on_board.take_over(rig.store, link, drive)
    assert kept.continues == rig.live.drive_id
    assert kept.lost == 0
    assert kept.state == "rest"
    assert kept.seconds == pytest.approx(20 * 60, abs=2)
    samples = [row for c in chunks_of(rig.store, kept.drive) for row in c.samples.tolist()]
    assert whole(samples)
    fetched = rig.store.drive(kept.drive)
    assert [s.connected for s in fetched.stretches] == ["stand_in", "real"]
    assert fetched.settings["continues"] == rig.live.drive_id
    assert fetched.how == "fetched"
    assert rig.store.reviews(kept.drive)
    assert rig.store.drive(rig.live.drive_id).how == "left"
    before = rig.store.drive(rig.live.drive_id)
    assert fetched.started_utc > before.started_utc


def test_record_that_did_not_fit_is_counted(rig):
    run_on(rig, minutes=5)
    rig.body.world.tell("drive")
    rig.body.player.ring.slots = 400
    rig.body.advance(10 * 60_000)
    link = plugged_again(rig)
    kept = kept_on_board.take_over(rig.store, link, rig.store.drive(rig.live.drive_id))
    assert kept.lost > 0
    assert "record_lost" in {w.code for w in kept.warnings}


def test_a_board_that_still_runs_is_left_running(rig):
    run_on(rig)
    rig.body.advance(60_000)
    link = plugged_again(rig)
    kept = kept_on_board.take_over(rig.store, link, rig.store.drive(rig.live.drive_id))
    assert kept.state == "running"
    assert link.board.fetch().state == "running"
    assert "still_running" in {w.code for w in kept.warnings}
    rig.body.advance(20 * 60_000)
    more = kept_on_board.maybe_left(rig.store, link)
    assert more is not None
    rest = kept_on_board.take_over(rig.store, link, more)
    assert rest.state == "rest"
    assert rest.continues == kept.drive
    assert rest.lost == 0


def test_a_new_recording_rescues_what_was_kept_before_it_clears_the_memory(rig):
    run_on(rig)
    rig.body.advance(15 * 60_000)
    live = begin(plugged_again(rig), rig.circuit, rig.store, "listen")
    assert live.rescued is not None
    assert live.rescued.continues == rig.live.drive_id
    drives = [d.id for d in rig.store.drives()]
    assert drives == [rig.live.drive_id, live.rescued.drive, live.drive_id]
    live.wait(2)
    live.end()


def test_a_board_that_keeps_nothing_more_is_no_reason_not_to_record(rig):
    """Fetched while it ran on, and at once a new recording: there is nothing left to rescue."""
    run_on(rig)
    rig.body.advance(60_000)
    link = plugged_again(rig)
    kept_on_board.take_over(rig.store, link, rig.store.drive(rig.live.drive_id))
    assert kept_on_board.maybe_left(rig.store, link) is not None
    with pytest.raises(Refused, match="none on board"):
        kept_on_board.take_over(rig.store, link, kept_on_board.maybe_left(rig.store, link))
    live = begin(link, rig.circuit, rig.store, "listen")
    assert live.rescued is None
    live.wait(2)
    assert live.now_ms > 1000
    live.end()


@pytest.mark.parametrize("handed_over", [0, 1, 2])
def test_a_link_lost_while_the_board_hands_over_leaves_what_came(rig, handed_over):
    run_on(rig)
    rig.body.player.quiet_node = rig.body.player.quiet_ohm = 0  # every 10 ms a row of its own
    rig.body.advance(20_000)
    link = plugged_again(rig)
    rig.plug.pull_at_write = rig.plug.writes + 2 + handed_over
    with pytest.raises(LinkTrouble):
        kept_on_board.rescue(rig.store, link)
    drives = rig.store.drives()
    assert len(drives) == 1 + (handed_over > 0)
    link = plugged_again(rig)
    rest = kept_on_board.rescue(rig.store, link)
    parts = [d.id for d in rig.store.drives() if d.id != rig.live.drive_id]
    assert rest is not None
    assert rest.drive == parts[-1]
    samples = [
        row for part in parts for c in chunks_of(rig.store, part) for row in c.samples.tolist()
    ]
    assert sum(row[1] for row in samples) >= 19_900
    assert not [gap for part in parts for gap in rig.store.drive(part).gaps]
    assert rig.store.drive(parts[-1]).how == "left"


def test_sheets_that_are_no_longer_understood_do_not_lose_what_was_kept(rig, monkeypatch):
    run_on(rig)
    rig.body.advance(60_000)
    trouble = Refused(Remark("bad_sheet", "sensor", "a sensor sheet", "half of one", "mend it"))

    def broken(*_arguments):
        raise trouble

    monkeypatch.setattr("locum.jobs.kept_filing.circuit_of_drive", broken)
    live = begin(plugged_again(rig), rig.circuit, rig.store, "listen")
    assert live.rescued is not None
    assert trouble.remarks[0] in live.rescued.warnings
    assert list(chunks_of(rig.store, live.rescued.drive))[0].samples.size
    live.end()


def test_a_recording_that_ended_by_itself_is_not_continued(rig):
    rig.live.wait(5)
    rig.live.end()
    rig.body.advance(60_000)
    link = plugged_again(rig)
    assert kept_on_board.maybe_left(rig.store, link) is None
    assert begin(link, rig.circuit, rig.store, "listen").rescued is None


def test_a_board_that_started_anew_has_nothing_of_it(rig, monkeypatch, book):
    run_on(rig)
    rig.restart()
    rig.body.advance(5000)
    link = plugged_again(rig)
    assert kept_on_board.maybe_left(rig.store, link) is None
    monkeypatch.setattr("locum.jobs.connection.connect", lambda *a, **k: link)
    with pytest.raises(Refused, match="started anew"):
        kept_on_board.fetch(rig.live.drive_id, casebook=book)
    with pytest.raises(Refused, match="--casebook"):
        kept_on_board.fetch(casebook=book)
