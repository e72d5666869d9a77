"""Keys in odd order and fast, through every page: nothing falls over, and the real sensor's key arrives."""

from __future__ import annotations

import random

import pytest
from textual.widgets import Input

from locum.jobs import desk_opening
from locum.jobs.desk import Asked
from locum.ui.widgets.facts import facts_of
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)
KEYS = (
    *"12345gbmMLJjklacwtfevdynxshrpo", "K", "enter", "enter", "escape", "up", "down", "pageup", "pagedown",
    "end", "home", "question_mark", "slash", "tab", "left", "ctrl+p", "backspace",
)  # fmt: skip
"""Every key that a page binds but the ones that leave, and Space, which has its own part."""
WORDS = ("82", "now", "follow", "glitch 60", "open 200", "calibrate", "20C=2.5k,82C=300", "sensor x",
         "reach module", "rain", "swap 4 10", "'\"\\", "up 3")  # fmt: skip
PRESSES = 60


async def press_something(pilot, app, draw: random.Random) -> None:
    """One key, or a typed word where a line takes it."""
    if isinstance(app.focused, Input) and draw.random() < 0.5:
        word = draw.choice(WORDS)
        await pilot.press(*("space" if c == " " else c for c in word), "enter")
    else:
        await pilot.press(draw.choice(KEYS))


@pytest.mark.parametrize(("seed", "size"), [(1, (80, 24)), (2, (120, 40)), (3, (80, 24))])
async def test_from_wherever_keys_lead_the_real_sensors_key_arrives(
    desk_app, plugs, monkeypatch, seed, size
):
    draw = random.Random(seed)
    async with desk_app(size, speed=10.0) as (app, pilot):
        gone = []
        monkeypatch.setattr(app, "exit", lambda *a, **k: gone.append(1))
        for number in range(1, PRESSES + 1):
            await press_something(pilot, app, draw)
            if number % 20 == 7:
                plugs[-1].pull()
            if number % 20 == 12:
                plugs[-1].plugged = True
            if number % 15 == 0:
                await to_the_real_sensor(pilot, app, plugs)
        assert not gone, "no key here leaves"
        assert not [r for r in app.desk.told.remarks if r.code == "unforeseen"]
        await to_the_real_sensor(pilot, app, plugs)


async def to_the_real_sensor(pilot, app, plugs) -> None:
    """Escape closes what is typed in or lies over; Space then brings it, wherever one is."""
    while isinstance(app.focused, Input) or type(app.screen).__name__ in ("Find", "Choose"):
        await pilot.press("escape")
    await pilot.press("space")
    plugs[-1].plugged = True
    await until(pilot, lambda: at_rest(app, plugs), 40)
    await until(pilot, lambda: facts_of(app.desk.snapshot()).connected in screen_text(app), 20)


def at_rest(app, plugs) -> bool:
    """The relay has let go, and the screens know."""
    told = app.desk.told
    known = told.phase == "recording" and told.glance is not None and told.glance.source == "real"
    return known and not plugs[-1].body.hands.energised


async def test_a_board_lost_while_the_next_recording_opens_is_looked_for_and_nothing_connects_late(
    desk_app, plugs, monkeypatch
):
    begin = desk_opening.begin

    def pulled(*arguments, **options):
        plugs[-1].pull()
        return begin(*arguments, **options)

    async with desk_app() as (app, pilot):
        monkeypatch.setattr(desk_opening, "begin", pulled)
        app.desk.reopen(app.desk.setup, Asked("follow", (), ""))
        await until(pilot, lambda: app.desk.snapshot().phase == "lost")
        await until(pilot, lambda: "it is looked for" in screen_text(app))
        monkeypatch.setattr(desk_opening, "begin", begin)
        await until(pilot, lambda: app.desk.snapshot().phase == "recording", 20)
        begun_s = app.desk.snapshot().glance.t_s
        await until(pilot, lambda: app.desk.snapshot().glance.t_s > begun_s + 6, 20)
        assert app.desk.snapshot().glance.source == "real"
