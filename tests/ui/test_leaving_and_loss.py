"""A board that is gone, that comes back, that says nothing: told in words, and never in the way."""

from __future__ import annotations

import asyncio
import time

import pytest

from locum.casebook.store import Store
from locum.jobs.desk import Asked, Desk, Setup
from locum.settings import Settings
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(120)


async def test_a_pulled_link_is_told_in_words_and_the_drive_goes_on_when_it_is_back(
    desk_app, plugs
):
    async with desk_app() as (app, pilot):
        drive = app.desk.snapshot().drive_id
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in", 20)
        plugs[-1].pull()
        await until(pilot, lambda: app.desk.snapshot().phase == "lost")
        await until(pilot, lambda: "LINK LOST" in screen_text(app))
        text = " ".join(screen_text(app).split())
        assert "by itself" in text, "what the board does meanwhile"
        assert "looked for" in text, "what happens next"
        await pilot.press("1")
        await until(pilot, lambda: "LINK LOST" in screen_text(app), 5)
        await pilot.press("2", "space")
        plugs[-1].plugged = True
        await until(pilot, lambda: app.desk.snapshot().phase == "recording", 20)
        await until(pilot, lambda: app.desk.snapshot().glance.source == "real", 20)
        assert app.desk.snapshot().drive_id == drive, "one recording, with its gap"
        assert "answers again" in app.desk.snapshot().trouble_words


async def test_an_order_without_a_link_is_refused_in_words_and_ends_nothing(desk_app, plugs):
    async with desk_app() as (app, pilot):
        plugs[-1].pull()
        await until(pilot, lambda: app.desk.snapshot().phase == "lost")
        await pilot.press("enter", *"82C", "enter")
        await until(pilot, lambda: len(app.desk.snapshot().remarks) > 0)
        plugs[-1].plugged = True
        await until(pilot, lambda: app.desk.snapshot().phase == "recording", 20)


@pytest.mark.parametrize("standing_in", [False, True])
async def test_leaving_takes_less_than_two_seconds_on_a_silent_port(desk_app, plugs, standing_in):
    async with desk_app() as (app, pilot):
        if standing_in:
            await pilot.press("enter", *"now", "enter")
            await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in", 20)
            plugs[-1].silent = True
            await until(pilot, lambda: app.desk.snapshot().phase == "lost", 20)
        else:
            plugs[-1].silent = True
            await asyncio.sleep(0.3)
        gone = asyncio.Event()
        leave = app.exit
        app.exit = lambda *a, **k: (gone.set(), leave(*a, **k))
        began = time.monotonic()
        await pilot.press("q")
        await asyncio.wait_for(gone.wait(), 3.0)
        assert time.monotonic() - began < 2.0


@pytest.mark.parametrize("way_back", ["real_sensor_now", "ease_back", "leave"])
def test_what_was_asked_before_a_way_back_never_connects_the_stand_in_after_it(way_back):
    desk = Desk(Setup(board="virtual"), Settings())
    desk.ask("hold", "82C")
    desk.reopen(desk.setup, Asked("hold", ("60C",)))
    desk.ask("follow")
    desk.mark()
    getattr(desk, way_back)()
    assert desk.asked.empty()
    assert desk._then is None
    assert not desk.quick.empty(), "marks and answers are kept"


async def test_leaving_while_standing_in_eases_back_and_the_record_is_closed(desk_app, plugs):
    async with desk_app() as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in", 20)
        drive, book = app.desk.snapshot().drive_id, app.desk.setup.casebook
        await pilot.press("q", "y")
        await until(pilot, lambda: app.desk.snapshot().phase == "ended", 20)
        assert app.desk.told.glance.source == "real"
    with Store.open(book) as store:
        assert store.drive(drive).how == "done"
        assert [s.connected for s in store.drive(drive).stretches] == ["real", "stand_in", "real"]
