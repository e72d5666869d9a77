"""A terminal too small for the screens: a sentence, what is connected, and the keys that are safe unseen."""

from __future__ import annotations

import pytest
from textual.geometry import Size

from locum.ui.widgets.cramped import LEAST, cramped_text, is_cramped
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(90)


def flat(app) -> str:
    return " ".join(screen_text(app).split())


def test_the_usual_sizes_are_enough_also_below_a_status_row():
    assert not any(is_cramped(Size(*size)) for size in [(80, 24), (80, 23), (80, 22), (200, 60)])
    assert all(is_cramped(Size(*size)) for size in [(60, 20), (79, 24), (80, 21), (20, 60)])


@pytest.mark.parametrize("place", ["1", "2", "3", "4", "5", "question_mark"])
async def test_every_place_gives_way_to_it_and_comes_back(desk_app, place):
    async with desk_app((80, 24)) as (app, pilot):
        await pilot.press(place)
        await until(pilot, lambda: "REAL SENSOR" in flat(app))
        before = screen_text(app).split("\n")[0]
        await pilot.resize_terminal(60, 20)
        await until(pilot, lambda: "Too small: 60 x 20; 80 x 22" in flat(app))
        assert "REAL SENSOR: safe: the module sees the vehicle's own sensor" in flat(app)
        assert "Space REAL SENSOR NOW" in flat(app)
        assert before not in screen_text(app), "nothing that could be cut"
        await pilot.resize_terminal(80, 24)
        await until(pilot, lambda: screen_text(app).split("\n")[0] == before)


async def test_unseen_keys_do_nothing_but_the_way_back_marks_and_leaving(desk_app):
    async with desk_app((80, 24)) as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in")
        await pilot.press("enter", *"9")
        await pilot.resize_terminal(60, 20)
        await until(pilot, lambda: "STAND-IN: OVERHEATING UNSEEN" in flat(app))
        acts: list[str] = []
        kept = app.desk.ask
        app.desk.ask = lambda act, *a, **k: (acts.append(act), kept(act, *a, **k))
        await pilot.press(*"0fcwtevan13gs", "enter", *"80", "enter")
        assert not acts
        await pilot.press("m")
        assert acts == ["mark"]
        await pilot.press("q")
        await until(pilot, lambda: "LEAVE? The stand-in is connected." in flat(app))
        await pilot.press("x", "space")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "real", 5)


def test_an_unseen_test_stays_hidden_there_too(hidden_pair):
    told = [cramped_text(snapshot, "", Size(60, 20), "celsius") for snapshot in hidden_pair]
    assert told[0] == told[1]
    assert "NOT SHOWN" in told[0]
    assert f"{LEAST[0]} x {LEAST[1]}" in told[0]
