"""Every action is found by its words, and explains itself; code words stay in the code."""

from __future__ import annotations

import asyncio
import re

import pytest

from locum.jobs.typed import LINES, act_of
from locum.ui.app import PLACES, LocumApp
from locum.ui.palette import bindings_of, commands
from locum.ui.widgets.keys import NAMES
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)


async def test_every_binding_of_every_place_is_in_the_palette(desk_app):
    async with desk_app() as (app, _pilot):
        found = {command.title.lower() for command in app.get_system_commands(app.screen)}
        for owner in (LocumApp, *PLACES.values()):
            for binding in bindings_of(owner):
                assert binding.description, f"{owner.__name__}: {binding.key} has no words"
                assert binding.description.lower() in found
        for _, what in LINES:
            assert what.lower() in found


def test_no_two_actions_of_the_palette_have_the_same_words():
    app = LocumApp()
    titles = [command.title for command in commands(app, PLACES)]
    assert len(titles) == len(set(titles))


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


async def test_an_action_of_another_place_is_done_there(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("4")
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Cases"))
        await pilot.press("ctrl+p")
        await until(pilot, lambda: type(app.screen).__name__ == "CommandPalette")
        await pilot.press(*"felt 10 s ago")
        await until(pilot, lambda: "elt 10 s ago" in screen_text(app).split("\n", 3)[3])
        await asyncio.sleep(0.4)
        await pilot.press("enter", "enter")
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Drive"))
        await until(pilot, lambda: "marked" in screen_text(app))


async def test_a_typed_line_of_the_palette_is_put_into_the_line_and_not_sent(desk_app):
    async with desk_app() as (app, pilot):
        for command in app.get_system_commands(app.screen):
            if "sweep" in command.help:
                command.callback()
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
        for keys in ("1", "2", "2d", "3", "3t", "3s", "3w", "4", "g"):
            await pilot.press("escape") if app.focused is not None else None
            await pilot.press(*keys)
            await asyncio.sleep(0.4)
            seen.append(screen_text(app))
            if app.focused is not None and keys == "g":
                await pilot.press("escape")
            await pilot.press("question_mark")
            await asyncio.sleep(0.2)
            seen.append(screen_text(app))
            await pilot.press("question_mark")
        for text in seen:
            assert not code_words(text), (code_words(text), text)
