"""While something long is being done: marks are kept at once, and one key ends it."""

from __future__ import annotations

import pytest

from locum.casebook.store import Store
from locum.errors import BoardFault, Remark
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)


async def test_a_mark_does_not_wait_for_the_act_in_progress_and_space_ends_it(desk_app):
    async with desk_app(speed=10.0) as (app, pilot):
        desk = app.desk
        await pilot.press("enter", *"glitch 200", "enter")
        await until(pilot, lambda: desk.snapshot().glance.source == "stand_in", 40)
        await pilot.press("m")
        await until(pilot, lambda: "marked" in screen_text(app), 20)
        assert desk.snapshot().doing == "glitch", "the act goes on"
        with Store.open(desk.setup.casebook) as store:
            assert "key" in [m.kind for m in store.marks(desk.snapshot().drive_id)]
        await pilot.press("space")
        await until(pilot, lambda: desk.snapshot().glance.source == "real", 20)
        await until(pilot, lambda: desk.snapshot().doing == "listen", 20)


async def test_space_before_the_relay_has_closed_calls_the_act_off(desk_app):
    async with desk_app(speed=1.0) as (app, pilot):
        desk = app.desk
        await pilot.press("enter", *"follow", "enter")
        await until(pilot, lambda: desk.snapshot().doing == "follow")
        await pilot.press("space")
        await until(pilot, lambda: desk.snapshot().doing == "listen", 10)
        begun_s = desk.snapshot().glance.t_s
        await until(pilot, lambda: desk.snapshot().glance.t_s > begun_s + 6, 30)
        assert desk.snapshot().glance.source == "real"


async def test_a_hold_says_when_it_will_be_there(desk_app):
    async with desk_app(speed=10.0) as (app, pilot):
        await pilot.press("enter", *"up 6", "enter")
        await until(pilot, lambda: "there in" in app.desk.snapshot().doing_words, 40)
        await until(pilot, lambda: app.desk.snapshot().doing_words and
                    "there in" not in app.desk.snapshot().doing_words, 60)  # fmt: skip


async def test_a_captured_glitch_is_given_and_a_wrong_name_connects_nothing(desk_app, tmp_path):
    captured = tmp_path / "captured.csv"
    rows = [(0.0, 250), (5.019, 250), (5.02, 3250), (5.419, 3250), (5.42, 250), (10.42, 250)]
    captured.write_text(
        "time_s,ohms,contact\n" + "".join(f"{t},{ohm},through\n" for t, ohm in rows)
    )
    async with desk_app(speed=50) as (app, pilot):
        app.desk.ask("glitch", ("no_such_capture",))
        await until(pilot, lambda: "no_such_capture" in str(app.desk.snapshot().remarks))
        assert not app.desk.snapshot().glance.standing_in
        app.desk.ask("glitch", (str(captured),))
        live = app.desk.live
        await until(pilot, lambda: any(
            mark.kind == "injected" for mark in live.store.drive(live.drive_id).marks), 120)  # fmt: skip


async def test_what_is_refused_while_standing_in_changes_nothing(desk_app):
    async with desk_app(speed=10.0) as (app, pilot):
        desk = app.desk
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: desk.snapshot().glance.source == "stand_in", 40)
        doing = desk.snapshot().doing
        for line in (("sweep", "20", "90", "1"), ("replay", "no_such_profile")):
            desk.show(outcomes=())
            await pilot.press("enter", *" ".join(line), "enter")
            await until(pilot, lambda: desk.snapshot().outcome is not None
                        and desk.snapshot().outcome.how == "kept", 40)  # fmt: skip
            await until(pilot, lambda: "REFUSED, nothing changed" in screen_text(app))
            at_s = desk.snapshot().glance.t_s
            await until(pilot, lambda at_s=at_s: desk.snapshot().glance.t_s > at_s + 3, 40)
            assert desk.snapshot().glance.source == "stand_in"
            assert desk.snapshot().doing == doing
        assert not any(e.words.startswith("real sensor now") for line in desk.snapshot().lines
                       for e in line.events)  # fmt: skip


async def test_what_the_board_itself_refuses_brings_the_real_sensor(desk_app, monkeypatch):
    async with desk_app(speed=10.0) as (app, pilot):
        desk = app.desk
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: desk.snapshot().glance.source == "stand_in", 40)

        def faulty(*_given, **_named):
            raise BoardFault(Remark("board_refused", "board", "an order taken", "-200 it was not"))

        monkeypatch.setattr(desk.live.board, "follow", faulty)
        await pilot.press("f")
        await until(pilot, lambda: "REFUSED, REAL SENSOR connected" in screen_text(app), 40)
        await until(pilot, lambda: desk.snapshot().glance.source == "real", 20)
        await until(
            pilot, lambda: "last       real sensor now, for what was refused" in screen_text(app)
        )
