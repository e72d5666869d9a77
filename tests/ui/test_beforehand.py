"""Places are built before anybody goes there, and what draws them keeps its styles no longer than they hold."""

from __future__ import annotations

from locum.ui.app import PLACES
from locum.ui.widgets.glance import Glimpse
from locum.ui.widgets.river import River
from ui_helpers import until

OVER = ("help", "find", "choose", "calibrate")


async def test_every_place_stands_before_a_key_asks_for_it_and_none_is_shown(desk_app):
    async with desk_app() as (app, pilot):
        told = []
        app.when_built = lambda: told.append(app.screen.NAME)
        await until(pilot, lambda: bool(told))
        assert all(app.get_screen(name).is_running for name in (*PLACES, *OVER))
        assert app.screen_stack[1:] == [app.get_screen("drive")]
        assert told == ["Drive"]


async def test_a_place_built_beforehand_shows_what_is_so_when_it_is_gone_to(desk_app):
    async with desk_app() as (app, pilot):
        await until(pilot, lambda: app.get_screen("prepare").is_running)
        await pilot.press("1")
        await until(pilot, lambda: app.screen is app.get_screen("prepare"))
        assert app.screen.size == app.size
        await pilot.press("question_mark")
        await until(pilot, lambda: app.screen is app.get_screen("help"))
        await pilot.press("escape", "2")
        await until(pilot, lambda: app.screen is app.get_screen("drive"))


async def test_another_theme_is_drawn_though_the_styles_are_kept(desk_app):
    async with desk_app() as (app, pilot):
        for name, widget in (("river--event", River), ("glance--value", Glimpse)):
            drawn = app.screen.query_one(widget)
            app.theme = "night"
            await pilot.pause()
            by_night = drawn.ink(name)
            app.theme = "day"
            await until(pilot, lambda d=drawn, n=name, b=by_night: d.ink(n) != b)
            assert drawn.ink(name) == drawn.get_component_rich_style(name)
