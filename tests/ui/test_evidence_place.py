"""Kick-outs beside glitches on a wide screen, and a glitch kept and given again by five keys."""

from __future__ import annotations

import re

import pytest

from locum.sheets.lookup import sheet_names
from recorded_book import copy_of_recorded
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)


@pytest.fixture
def case(tmp_path, tmp_path_factory):
    """A case with half an hour on the road, in the casebook that the screens open."""
    home = str(tmp_path_factory.getbasetemp())
    return copy_of_recorded(tmp_path / "casebook.sqlite", home)[0]


async def weighed(app, pilot, case):
    app.use_case(case)
    await until(pilot, lambda: app.case_id == case)
    await pilot.press("3")
    await until(pilot, lambda: "Case: Van in rain" in screen_text(app), 40)


async def test_side_by_side_where_there_is_room_and_behind_a_key_where_not(desk_app, case):
    row = re.compile(r"\d\d:\d\d +(KICK-OUT|no kick-out)")
    async with desk_app((120, 40)) as (app, pilot):
        await weighed(app, pilot, case)
        await until(pilot, lambda: row.search(screen_text(app)))
        assert "possible" in screen_text(app), "the steps stand beside it"
        assert re.search(r"time +kick-out +how they lie the sensor's glitch", screen_text(app))
        await pilot.press("s")
        await until(pilot, lambda: "cannot be told" in screen_text(app))
        assert row.search(screen_text(app)), "and the suspects as well"
    async with desk_app((80, 24)) as (app, pilot):
        await weighed(app, pilot, case)
        assert not row.search(screen_text(app))
        await until(pilot, lambda: "w in time" in screen_text(app).splitlines()[-1])
        await pilot.press("w")
        await until(pilot, lambda: row.search(screen_text(app)))


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_a_glitch_is_kept_and_given_again_by_four_keys(desk_app, case, size):
    async with desk_app(size, speed=10.0) as (app, pilot):
        await weighed(app, pilot, case)
        before = set(sheet_names("profile"))
        await pilot.press("enter")
        await until(pilot, lambda: "as a profile of this name" in screen_text(app))
        await pilot.press("enter")
        await until(pilot, lambda: "Kept as glitch-" in screen_text(app))
        (name,) = set(sheet_names("profile")) - before
        assert app.desk.snapshot().glance.source == "real", "keeping connects nothing"
        await pilot.press("2")
        await until(pilot, lambda: f"x give {name}" in screen_text(app))
        await pilot.press("x")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in", 40)
        assert app.desk.snapshot().doing == "glitch"


async def test_escape_at_the_name_keeps_nothing(desk_app, case):
    async with desk_app() as (app, pilot):
        await weighed(app, pilot, case)
        before = sheet_names("profile")
        await pilot.press("enter")
        await until(pilot, lambda: "as a profile of this name" in screen_text(app))
        await pilot.press("escape")
        await until(pilot, lambda: "as a profile of this name" not in screen_text(app))
        assert sheet_names("profile") == before
        await pilot.press("2", "x")
        await until(pilot, lambda: "No glitch is kept yet" in screen_text(app))
        assert app.desk.asked.empty()
