"""The module measured on the screen: one value at a time, at both sizes, by keys or by mouse."""

from __future__ import annotations

import pytest

from locum.casebook.store import Store
from ui_counted import PREPARED_KEYS, Hand
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)
SIZES = [(80, 24), (120, 40)]


def flat(app) -> str:
    return " ".join(screen_text(app).split())


@pytest.mark.parametrize("size", SIZES)
async def test_three_readings_measure_the_module_and_are_used_and_kept(desk_app, tmp_path, size):
    """2400 ohm (5.02/2.37 - 1) = 2683.5 ohm by hand, +-2 x 20.7."""
    async with desk_app(size, speed=20.0) as (app, pilot):
        await pilot.press("4", "n", *"Van 7", "enter")
        await until(pilot, lambda: app.case_id is not None)
        first = app.desk.snapshot().drive_id
        hand = Hand(pilot, PREPARED_KEYS)
        task = "the module measured, from another place"
        await hand.does(task, "1", "r")
        await until(pilot, lambda: "volts between the plug's two pins?" in flat(app))
        await hand.does(task, *"5.02", "enter")
        await until(pilot, lambda: "5.02 V with the plug open" in flat(app))
        await hand.does(task, *"2k4", "enter")
        await until(pilot, lambda: "2.40 kohm across the pins" in flat(app))
        await hand.does(task, *"2.37", "enter")
        await until(pilot, lambda: "Another resistor" in flat(app))
        assert "so pull-up 2.68 kohm +-41 ohm" in flat(app)
        assert "330" in flat(app), "the second stage is asked for"
        await hand.does(task, "enter")
        await until(pilot, lambda: "Kept with the case" in flat(app))
        told = flat(app)
        for words in ("pull-up 2.68 kohm +-41 ohm to 5.02 V", "believed", "wiper 4",
                      "1.4 allowed in plans"):  # fmt: skip
            assert words in told, words
        hand.check()
        await until(pilot, lambda: app.desk.snapshot().drive_id != first, 30)
        await until(pilot, lambda: app.desk.snapshot().phase == "recording", 30)
        await pilot.press("enter")
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Prepare"))
        await until(pilot, lambda: "2.68 kohm to 5.02 V" in flat(app))
        case_id = app.case_id
    with Store.open(str(tmp_path / "casebook.sqlite")) as store:
        assert store.case(case_id).fields["module_readings"]["plug open"]["value"] == 5.02
        kept = store.sheet(case_id, "module")
    assert kept is not None
    assert "2.37 V across 2.40 kohm" in kept.text


@pytest.mark.parametrize("size", SIZES)
async def test_a_wrong_reading_is_refused_nothing_is_lost_and_it_can_be_left(desk_app, size):
    async with desk_app(size) as (app, pilot):
        drive = app.desk.snapshot().drive_id
        await pilot.press("1", "r")
        await until(pilot, lambda: "two pins?" in flat(app))
        await pilot.press(*"5.02", "enter", *"2.4", "enter")
        await until(pilot, lambda: "or is it 2.4k?" in flat(app))
        assert "5.02 V with the plug open" in flat(app)
        await pilot.press(*"2.4k", "enter", *"9", "enter")
        await until(pilot, lambda: "less than the open 5.02 V" in flat(app))
        await pilot.press("escape", "2")
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Drive"))
        await pilot.press("1", "r")
        await until(pilot, lambda: "with 2.40 kohm across them?" in flat(app))
        await pilot.press("escape", "u")
        await until(pilot, lambda: "how many ohms has it?" in flat(app))
        assert app.desk.snapshot().drive_id == drive, "nothing is taken over before the end"


async def test_twelve_volts_are_told_and_never_used(desk_app):
    async with desk_app() as (app, pilot):
        module = app.desk.setup.module
        await pilot.press("1", "r", *"12.4", "enter")
        await until(pilot, lambda: "Never stand in here" in flat(app))
        await pilot.press(*"2k4", "enter", *"6.2", "enter", "enter")
        await until(pilot, lambda: "only listen" in flat(app))
        assert app.desk.setup.module == module


async def test_a_mouse_alone_reaches_the_readings_and_leaves_them(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("1")
        await until(pilot, lambda: "module      ready" in screen_text(app))
        row = next(
            y for y, line in enumerate(screen_text(app).split("\n")) if " module      ready" in line
        )
        await pilot.click(offset=(20, row))
        await until(pilot, lambda: "two pins?" in flat(app))
        await pilot.press("escape")
        await until(pilot, lambda: "1 Prepare" in screen_text(app).split("\n")[0])
        at = screen_text(app).split("\n")[0].index("1 Prepare")
        await pilot.click(offset=(at, 0))
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Prepare"))
