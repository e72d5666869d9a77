"""Every action is found by its words and explains itself; code words stay in the code."""

from __future__ import annotations

import asyncio
import re

import pytest

from locum.jobs.prepare_line import LINES as PREPARED
from locum.jobs.typed import LINES, act_of
from locum.ui.actions import bindings_of, doable
from locum.ui.app import PLACES, LocumApp
from locum.ui.widgets.keys import NAMES
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)


async def test_every_binding_of_every_place_is_listed(desk_app):
    async with desk_app() as (app, _pilot):
        found = {one.words for one in doable(app, PLACES)}
        for owner in (LocumApp, *PLACES.values()):
            for binding in bindings_of(owner):
                said = binding.tooltip or binding.description
                assert said, f"{owner.__name__}: {binding.key} has no words"
                assert said in found or binding.action == "find"
        assert {what for _, what in (*LINES, *PREPARED)} <= found


def test_no_two_actions_have_the_same_words():
    said = [one.words for one in doable(LocumApp(), PLACES)]
    assert len(said) == len(set(said))


async def test_a_line_of_prepare_is_found_and_put_into_its_line(desk_app):
    async with desk_app() as (app, pilot):
        await opened(app, pilot)
        await pilot.press(*"where one can reach")
        await until(pilot, lambda: "1 thing with" in screen_text(app))
        await pilot.press("enter")
        await until(pilot, lambda: app.focused is not None and app.focused.value == "reach sensor")
        assert screen_text(app).lstrip().startswith("Prepare")


def test_every_line_that_is_offered_is_understood():
    for line, _ in LINES:
        assert act_of(line, told_c=80.0).name


@pytest.mark.parametrize("name", list(PLACES))
def test_the_explanation_names_every_key_of_its_place(name):
    place = PLACES[name]
    for binding in bindings_of(place):
        key = NAMES.get(binding.key, binding.key)
        assert re.search(rf"(^|\s){re.escape(key)}[\s:,]", place.HELP, re.MULTILINE), (
            name,
            binding.key,
        )


async def opened(app, pilot, key: str = "5") -> None:
    await pilot.press(key)
    await until(pilot, lambda: "All that can be done" in screen_text(app))


async def test_an_action_of_another_place_is_done_there(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("4")
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Cases"))
        await opened(app, pilot, "ctrl+p")
        await pilot.press(*"note into the record")
        await until(pilot, lambda: "1 thing with" in screen_text(app))
        await pilot.press("enter")
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Drive"))
        await pilot.press(*"rain", "enter")
        await until(pilot, lambda: "rain" in screen_text(app))


async def test_the_row_that_enter_is_for_and_what_is_below_are_said_in_words(desk_app):
    async with desk_app() as (app, pilot):
        await opened(app, pilot)
        rows = screen_text(app).split("\n")
        marked = [row for row in rows if row.startswith(" Enter  ")]
        assert marked == [row for row in rows if row.endswith("type a value")]
        assert any(re.search(r"\d+ more below: Down", row) for row in rows)
        await pilot.press("down")
        await until(pilot, lambda: re.search(r"Enter  f +follow", screen_text(app)))
        assert rows[0].lstrip().startswith("REAL SENSOR")
        assert rows[-1].endswith("Esc closes, then Space: REAL SENSOR NOW")


async def test_words_that_nothing_has_are_told_and_do_nothing(desk_app):
    async with desk_app() as (app, pilot):
        await opened(app, pilot)
        await pilot.press(*"teleport")
        await until(pilot, lambda: "Nothing has all these words" in screen_text(app))
        await pilot.press("enter", "escape")
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Drive"))
        assert app.desk.snapshot().glance.source == "real"


async def test_a_place_opened_from_an_explanation_leaves_nothing_behind(desk_app):
    async with desk_app() as (app, pilot):
        deep = len(app.screen_stack)
        for key in ("?", "3", "?", "5", "escape", "?", "2"):
            await pilot.press(key)
            await asyncio.sleep(0.1)
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Drive"))
        assert len(app.screen_stack) == deep


async def test_a_line_that_can_be_typed_is_put_into_the_line_and_not_sent(desk_app):
    async with desk_app() as (app, pilot):
        for one in doable(app, PLACES):
            if one.key.startswith("sweep"):
                one.do()
        await until(
            pilot, lambda: app.focused is not None and app.focused.value == "sweep 20 90 10"
        )
        assert app.desk.snapshot().glance.source == "real"


SHEETS = ("parcel_van_coolant", "parcel_van_engine", "parcel_van")
"""Names of files a person gave; they may look as they like."""


def code_words(text: str) -> list[str]:
    for name in SHEETS:
        text = text.replace(name, "")
    return re.findall(
        r"\b[a-z]+_[a-z_]+\b|\b[A-Z][a-z]+[A-Z]\w+\b|\bNone\b|\bTrue\b|\bFalse\b|\bnan\b", text
    )


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_no_code_word_reaches_any_screen_or_explanation(desk_app, size):
    async with desk_app(size, speed=10.0) as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in", 20)
        await pilot.press("4", "n", *"Van", "enter")
        await until(pilot, lambda: app.case_id is not None)
        seen = []
        for keys in ("1", "1r", "1d", "2", "2d", "3", "3t", "3s", "3w", "4", "g"):
            await pilot.press("escape") if app.focused is not None else None
            await pilot.press(*keys)
            await asyncio.sleep(0.4)
            seen.append(screen_text(app))
            if app.focused is not None and keys in ("g", "1r", "1d"):
                await pilot.press("escape")
            await pilot.press("question_mark")
            await asyncio.sleep(0.2)
            seen.append(screen_text(app))
            await pilot.press("question_mark")
        for text in seen:
            assert not code_words(text), (code_words(text), text)
