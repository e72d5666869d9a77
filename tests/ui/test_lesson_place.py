"""The vehicle's lines learned on the screen: named, driven through, said with one key, used and kept."""

from __future__ import annotations

import asyncio

import pytest

from locum.casebook.store import Store
from locum.sheets.vehicle import read_vehicle
from ui_counted import PREPARED_KEYS, Hand
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(300)
SIZES = [(80, 24), (120, 40)]
CLUTCH = 1
"""Bit of the van's watch line 1."""


def flat(app) -> str:
    return " ".join(screen_text(app).split())


def clutch(app) -> bool:
    return bool(app.desk.snapshot().glance.levels & CLUTCH)


async def stands(pilot, app, on: bool) -> None:
    """The virtual driver is in that state and has been for two of the board's seconds."""
    await until(pilot, lambda: clutch(app) == on, 90)
    since_s = app.desk.snapshot().glance.t_s
    await until(pilot, lambda: app.desk.snapshot().glance.t_s > since_s + 2, 20)


async def named(pilot, app, hand: Hand) -> None:
    """Lines as the van's sheet has them, two states."""
    task = "lines and states named, two states"
    await until(pilot, lambda: "Known: 1 converter clutch" in flat(app))
    await hand.does(task, "enter")
    await until(pilot, lambda: "loss is the complaint" in flat(app))
    await hand.does(task, *"top", "enter", *"open", "enter", "enter")
    await until(pilot, lambda: "Drive until it is: top" in flat(app))


@pytest.mark.parametrize("size", SIZES)
async def test_lines_are_learned_by_driving_left_resumed_used_and_kept(desk_app, tmp_path, size):
    """The truth is the van's own sheet: its top state is the converter clutch on."""
    async with desk_app(size, speed=20.0) as (app, pilot):
        hand = Hand(pilot, PREPARED_KEYS)
        await pilot.press("4", "n", *"Van 7", "enter")
        await until(pilot, lambda: app.case_id is not None)
        await pilot.press("1", "d")
        await named(pilot, app, hand)
        assert "the lines now: converter clutch o" in flat(app)

        await stands(pilot, app, True)
        await hand.does("a state said as it comes", "enter")
        await until(pilot, lambda: "Drive until it is: open" in flat(app))
        said_s = app.desk.snapshot().glance.t_s
        await until(pilot, lambda: app.desk.snapshot().glance.t_s > said_s + 1.5)
        await pilot.press("enter")
        await until(pilot, lambda: "said: open" in flat(app))
        await hand.does("a wrong saying taken back", "u")
        await until(pilot, lambda: "taken back: open" in flat(app))

        await pilot.press("2")  # left in the middle
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Drive"))
        await pilot.press("1", "d")
        await until(pilot, lambda: "top said once" in flat(app))

        await hand.does("what was learned looked at", "w")
        await until(pilot, lambda: "top: converter clutch on" in flat(app), 30)
        assert "open: not driven yet" in flat(app)
        await stands(pilot, app, False)
        await pilot.press("enter")
        await stands(pilot, app, True)
        await pilot.press("enter")
        await stands(pilot, app, False)
        await pilot.press("enter")
        await until(pilot, lambda: "open: converter clutch off" in flat(app), 30)
        await until(pilot, lambda: "y uses it" in flat(app))
        first = app.desk.snapshot().drive_id
        await hand.does("what was learned used", "y")
        await until(pilot, lambda: "Kept with the case" in flat(app))
        await until(pilot, lambda: app.desk.snapshot().drive_id != first, 30)
        hand.check()
        await pilot.press("1")
        await until(pilot, lambda: "a kick-out is the loss of 'top'" in flat(app), 20)
        case_id = app.case_id
    with Store.open(str(tmp_path / "casebook.sqlite")) as store:
        kept = store.sheet(case_id, "vehicle")
    assert kept is not None
    sheet = read_vehicle(kept.text, "kept")
    assert {s.name: (s.lines, s.top) for s in sheet.states} == {
        "top": ({"converter clutch": "on"}, True), "open": ({"converter clutch": "off"}, False),
    }  # fmt: skip


@pytest.mark.parametrize("size", SIZES)
async def test_a_click_says_a_state_and_a_chosen_one_is_said_out_of_turn(desk_app, size):
    async with desk_app(size, speed=10.0) as (app, pilot):
        await pilot.press("1", "d")
        await named(pilot, app, Hand(pilot, PREPARED_KEYS))
        row = next(y for y, line in enumerate(screen_text(app).split("\n")) if " open  " in line)
        await pilot.click(offset=(12, row))
        await until(pilot, lambda: "said: open" in flat(app))
        await pilot.press("down")
        await until(pilot, lambda: "Drive until it is: open" in flat(app))
        await pilot.press("enter")
        await until(pilot, lambda: "open said 2 times" in flat(app))
        assert "top not said yet" in flat(app)


async def test_a_state_may_be_typed_by_hand_and_wrong_ones_are_refused(desk_app):
    async with desk_app(speed=10.0) as (app, pilot):
        await pilot.press("1", "d")
        await until(pilot, lambda: "Known:" in flat(app))
        await pilot.press("enter", *"top = clutch on", "enter")
        await until(pilot, lambda: "Lines: converter clutch" in flat(app))
        for line in ("top = converter clutch on", "open = 1 off", ""):
            await pilot.press(*line, "enter")
            await asyncio.sleep(0.1)
        await until(pilot, lambda: "All states were typed by hand" in flat(app))
        await pilot.press("w")
        await until(pilot, lambda: "Nothing is unclear" in flat(app), 20)
        assert "y uses it" in flat(app)


async def test_the_real_sensor_is_one_key_away_while_states_are_said(desk_app):
    async with desk_app(speed=10.0) as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in", 30)
        await pilot.press("1", "d")
        await named(pilot, app, Hand(pilot, PREPARED_KEYS))
        await pilot.press("space")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "real", 10)


async def test_beginning_anew_is_asked_about_once_something_was_said(desk_app):
    async with desk_app(speed=10.0) as (app, pilot):
        await pilot.press("1", "d")
        await named(pilot, app, Hand(pilot, PREPARED_KEYS))
        await pilot.press("enter")
        await until(pilot, lambda: "top said once" in flat(app))
        await pilot.press("x")
        await until(pilot, lambda: "x once more" in flat(app))
        assert "top said once" in flat(app)
        await pilot.press("w")
        await until(pilot, lambda: "What was learned" in flat(app), 20)
        await pilot.press("x", "x")
        await until(pilot, lambda: "Known: 1 converter clutch" in flat(app))
