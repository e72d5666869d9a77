"""The calibration by keys and line by line: what must be true first, how far it is, what is known after."""

from __future__ import annotations

import asyncio

import pytest

from kept_readings import READINGS, keep_readings
from locum.jobs.desk import Desk, Setup
from locum.settings import Settings
from locum.ui.plain import Plain
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)


@pytest.fixture
def read_before(tmp_path_factory, own_folders):
    """So many readings were kept when an earlier one was stopped."""
    return lambda count: keep_readings(count, str(tmp_path_factory.getbasetemp()))


def told(app) -> str:
    """The screen in one line, however it is broken."""
    return " ".join(screen_text(app).split())


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_found_by_its_words_stopped_by_space_and_gone_on_with(desk_app, read_before, size):
    read_before(READINGS - 500)
    async with desk_app(size, speed=20.0) as (app, pilot):
        await pilot.press("5", *"board measures itself", "enter")
        await until(pilot, lambda: "Nothing is unplugged" in told(app))
        assert "were kept when one was stopped" in told(app)
        assert app.desk.snapshot().calibration is None, "nothing begins before Enter"
        await pilot.press("enter")
        await until(pilot, lambda: "Calibrating:" in told(app))
        assert "Space REAL SENSOR NOW" in screen_text(app).split("\n")[-1]
        await pilot.press("space")
        await until(pilot, lambda: "Calibration stopped at" in told(app))
        assert app.desk.snapshot().glance.source == "real"
        await pilot.press("enter", "escape")
        await until(pilot, lambda: "Drive" in told(app)[:10])
        await until(
            pilot, lambda: "calibrating:" in told(app) or "calibration: done" in told(app), 40
        )
        await pilot.press("5", *"board measures itself", "enter")
        await until(pilot, lambda: "CALIBRATED, and kept" in told(app), 60)
        assert "while the board itself is at 3 C to 43 C" in told(app)
        assert not [r for r in app.desk.snapshot().circuit_remarks if r.code == "not_calibrated"]


async def test_while_the_stand_in_is_connected_enter_says_what_is_missing_and_asks_nothing(
    desk_app,
):
    async with desk_app() as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in", 30)
        await pilot.press("5", *"board measures itself", "enter")
        await until(pilot, lambda: "must be connected" in told(app))
        await pilot.press("enter")
        await until(pilot, lambda: "Not begun" in told(app))
        assert app.desk.snapshot().calibration is None
        assert app.desk.snapshot().glance.source == "stand_in"
        await pilot.press("space")
        await until(pilot, lambda: "Nothing is unplugged" in told(app))


async def test_a_hand_meter_is_typed_and_a_wrong_line_is_told_with_an_example(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("5", *"board measures itself", "enter")
        await until(pilot, lambda: "Nothing is unplugged" in told(app))
        await pilot.press("h", *"bench 200", "enter")
        await until(pilot, lambda: "type it like that" in told(app).lower())
        await pilot.press("h", *"bench 0.05% 200=200.1 9k=9.002k", "enter")
        await until(pilot, lambda: "hand meter: bench 0.05% 200=200.1" in told(app))
        await asyncio.sleep(0)
        assert app.desk.snapshot().calibration is None


def test_line_by_line_it_tells_what_must_be_true_before_it_can_be_asked_for(tmp_path):
    said: list[str] = []
    desk = Desk(Setup(casebook=str(tmp_path / "book.sqlite")), Settings())
    plain = Plain(desk, Settings(), said.append)
    plain.take("calibrate")
    assert "real sensor  missing" in said[-1]
    assert "calibrate now" in said[-1]
    plain.take("calibrate now")
    assert desk.asked.empty(), "there is no board yet"
