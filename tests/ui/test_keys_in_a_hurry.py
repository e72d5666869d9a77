"""Keys that come faster than a screen is drawn, or in one go over a slow network."""

from __future__ import annotations

import pytest
from textual import events
from textual.widgets import Input

from locum.jobs.lines import Event
from ui_helpers import until

pytestmark = pytest.mark.timeout(90)


def in_one_go(app, *keys: str) -> None:
    """All of them are there before the first one is looked at."""
    for key in keys:
        letter = {"space": " "}.get(key, key)
        app.post_message(events.Key(key, letter if len(letter) == 1 else None))


async def test_letters_of_a_typed_line_are_never_taken_for_keys(desk_app):
    async with desk_app() as (app, pilot):
        asked: list[str] = []
        app.desk.ask = lambda act, *_arguments, **_words: asked.append(act)
        in_one_go(app, "enter", *"fbmywtcJkl")
        typed = app.screen.query_one("#typed", Input)
        await until(pilot, lambda: typed.value == "fbmywtcJkl")
        assert not asked, "nothing is followed, held, marked or answered by a word that is typed"


@pytest.mark.parametrize(("place", "opens", "line"), [("4", "n", "case-words"), ("4", "slash", "case-words"),
                                                     ("2", "a", "typed"), ("1", "enter", "prepare-line"),
                                                     ("2", "5", "wanted")])  # fmt: skip
async def test_every_typed_line_is_open_before_the_next_key(desk_app, place, opens, line):
    async with desk_app() as (app, pilot):
        await pilot.press(place)
        in_one_go(app, opens, *"abfq")
        await until(pilot, lambda: [i.value for i in app.screen.query(f"#{line}")] == ["abfq"])


async def test_the_real_sensor_is_not_held_up_by_the_keys_before_it(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in")
        in_one_go(app, "4", "3", "question_mark", "space")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "real", 5)


async def test_a_kick_out_is_asked_about_only_as_long_as_the_answer_would_count(desk_app):
    async with desk_app() as (app, pilot):
        now_s = app.desk.snapshot().glance.t_s
        app.desk.show(awaits_answer=True, last_kick_out=Event(now_s - 100.0, "kick_out"))
        ticks = app.desk.snapshot().ticks
        await until(pilot, lambda: app.desk.snapshot().ticks > ticks + 3)
        assert app.desk.snapshot().awaits_answer
        app.desk.show(last_kick_out=Event(now_s - 125.0, "kick_out"))
        await until(pilot, lambda: not app.desk.snapshot().awaits_answer)


async def test_space_in_an_empty_typed_line_is_the_real_sensor_and_a_blank_in_a_begun_one(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in")
        await pilot.press("enter", *"up", "space", "2")
        assert app.screen.query_one("#typed", Input).value == "up 2"
        assert app.desk.snapshot().glance.source == "stand_in"
        await pilot.press("escape")
        in_one_go(app, "enter", *"up", "space", "3")
        await until(pilot, lambda: app.screen.query_one("#typed", Input).value == "up 3")
        assert app.desk.snapshot().glance.source == "stand_in"
        await pilot.press("escape", "enter", "space")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "real", 5)
