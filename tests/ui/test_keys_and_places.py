"""The four places, the keys that every place shares, and what may never be misread."""

from __future__ import annotations

import asyncio
import re

import pytest

from locum.ui import words
from locum_board import states
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(90)

SIZES = [(80, 24), (120, 40)]
PLACES = {"1": "Prepare", "2": "Drive", "3": "Evidence", "4": "Cases"}


async def stand_in(app, pilot, text: str = "now") -> None:
    await pilot.press("enter", *text, "enter")
    await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in")


@pytest.mark.parametrize("size", SIZES)
async def test_every_place_is_one_digit_away_and_explains_itself(desk_app, size):
    async with desk_app(size) as (app, pilot):
        for key, name in PLACES.items():
            await pilot.press(key)
            await until(pilot, lambda name=name: screen_text(app).lstrip().startswith(name))
            await pilot.press("question_mark")
            await until(pilot, lambda: "explained" in screen_text(app))
            await pilot.press("escape")
            await until(pilot, lambda name=name: screen_text(app).lstrip().startswith(name))


async def test_what_is_connected_and_the_way_back_stay_in_sight_over_help_and_all_that_can_be_done(
    desk_app,
):
    async with desk_app(SIZES[0]) as (app, pilot):
        await pilot.press("?")
        await until(pilot, lambda: "explained" in screen_text(app))
        assert screen_text(app).lstrip().startswith("REAL SENSOR connected")
        assert screen_text(app).splitlines()[-1].strip().startswith("Space REAL SENSOR NOW")
        await pilot.press("escape", "5")
        await until(pilot, lambda: "Esc closes, then Space: REAL SENSOR NOW" in screen_text(app))
        assert screen_text(app).lstrip().startswith("REAL SENSOR connected")
        await pilot.press("escape")
        await until(pilot, lambda: "Space REAL SENSOR NOW" in screen_text(app).splitlines()[-1])
        assert "m mark: felt" in screen_text(app).splitlines()[-1]


@pytest.mark.parametrize(("size", "key"), [(SIZES[0], "space"), (SIZES[1], "escape")])
async def test_real_sensor_now_from_a_stand_in_by_either_key(desk_app, size, key):
    async with desk_app(size) as (app, pilot):
        await stand_in(app, pilot)
        await until(pilot, lambda: "STAND-IN" in screen_text(app))
        await pilot.press(key)
        await until(pilot, lambda: app.desk.snapshot().glance.source == "real", 5)
        await until(pilot, lambda: "REAL SENSOR" in screen_text(app).split("\n")[1], 5)


@pytest.mark.parametrize("place", ["1", "4"])
async def test_real_sensor_now_works_from_every_other_place_too(desk_app, place):
    async with desk_app() as (app, pilot):
        await stand_in(app, pilot)
        await pilot.press(place)
        await pilot.press("space")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "real", 5)


async def test_ease_back_walks_home_and_only_then_is_it_the_real_sensor(desk_app):
    async with desk_app() as (app, pilot):
        await stand_in(app, pilot)
        await pilot.press("b")
        await until(pilot, lambda: app.desk.snapshot().glance.state in ("returning", "rest"), 5)
        await until(pilot, lambda: app.desk.snapshot().glance.source == "real", 10)


async def test_space_and_escape_belong_to_a_typed_line_while_there_is_one(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("enter", *"up")
        await pilot.press("space")
        assert app.focused.value == "up "
        await pilot.press("escape")
        assert app.focused is None


async def test_a_line_that_is_no_value_is_refused_in_words(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("enter", *"warm", "enter")
        await until(pilot, lambda: "82C" in screen_text(app))
        assert app.desk.snapshot().glance.source == "real"


async def test_a_value_out_of_reach_is_refused_and_nothing_is_connected(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("enter", *"190", "enter")
        await until(pilot, lambda: "66 ohm" in screen_text(app).replace("\n", " "))
        assert app.desk.snapshot().glance.source == "real"


async def test_marks_are_kept_with_the_recording(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("m", "M")
        await until(pilot, lambda: screen_text(app).count("marked") >= 1)
        drive = app.desk.snapshot().drive_id
    from locum.casebook.store import Store

    with Store.open(app.desk.setup.casebook) as store:
        marks = store.marks(drive)
    assert [(m.kind, m.ago_ms) for m in marks] == [("key", 0), ("key", 10_000)]


async def test_leaving_at_rest_asks_nothing_and_is_quick(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("q")
        await until(pilot, lambda: app.desk.snapshot().phase == "ended", 2)


async def test_leaving_while_standing_in_asks_for_y_and_goes_home(desk_app):
    async with desk_app() as (app, pilot):
        await stand_in(app, pilot)
        await pilot.press("q")
        await asyncio.sleep(0.3)
        assert app.desk.snapshot().phase == "recording"
        await pilot.press("y")
        await until(pilot, lambda: app.desk.snapshot().phase == "ended", 5)


@pytest.mark.parametrize("key", ["m", "2", "q", "n", "enter"])
async def test_any_other_key_stays_and_does_nothing_else(desk_app, key):
    async with desk_app() as (app, pilot):
        await stand_in(app, pilot)
        await pilot.press("q")
        await until(pilot, lambda: "LEAVE?" in screen_text(app))
        said = " ".join(screen_text(app).split())
        assert "y within 10 s: ease back and leave any other key: stay" in said
        assert "Space: real sensor at once" in said
        await pilot.press(key)
        await until(pilot, lambda: "LEAVE?" not in screen_text(app))
        await pilot.press("y")  # answers nothing any more
        await asyncio.sleep(0.4)
        glance = app.desk.snapshot().glance
        assert (app.desk.snapshot().phase, glance.source) == ("recording", "stand_in")
        assert glance.state != "returning"
        assert not any(e.kind == "mark" for line in app.desk.snapshot().lines for e in line.events)


async def test_space_brings_the_real_sensor_while_it_is_asked_whether_to_leave(desk_app):
    async with desk_app() as (app, pilot):
        await stand_in(app, pilot)
        await pilot.press("q", "space")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "real", 5)
        assert app.desk.snapshot().phase == "recording"


async def test_no_code_word_reaches_a_screen(desk_app):
    async with desk_app((120, 40)) as (app, pilot):
        await stand_in(app, pilot)
        for key in PLACES:
            await pilot.press(key)
            await asyncio.sleep(0.3)
            text = screen_text(app)
            for allowed in ("parcel_van_coolant", "parcel_van_engine", "parcel_van"):
                text = text.replace(allowed, "")
            assert not re.findall(r"\b[a-z]+_[a-z_]+\b", text), text


def test_every_code_word_of_board_and_proof_has_screen_words():
    from locum.jobs import desk_acts
    from locum.verdict.words import STEPS

    assert set(states.STATE_NAMES) <= set(words.STATE)
    assert {"real", "stand_in", "moving"} == set(words.SOURCE)
    assert set(STEPS) <= set(words.PROOF)
    assert set(desk_acts.ACTS) - set(desk_acts.QUIET) <= set(words.DOING)
    trips = {"standing", "hot", "line", "self_check", "supply", "silence", "watchdog", "fault",
             "switch", "plan_late", "blind"}  # fmt: skip
    assert trips <= set(states.CAUSE_NAMES)
    assert trips <= set(words.CAUSE_OF_TRIP)


async def test_fahrenheit_where_the_workshop_asks_for_it(desk_app):
    async with desk_app(unit="fahrenheit") as (app, pilot):
        await until(pilot, lambda: re.search(r"told\s+15\d\.\d F", screen_text(app)))


async def test_a_lost_link_is_told_in_words(desk_app):
    async with desk_app() as (app, pilot):
        body = app.desk.live.connection.board.transport
        body.close()
        await until(pilot, lambda: app.desk.snapshot().phase == "lost")
        await until(pilot, lambda: "LINK LOST" in screen_text(app))
        assert "lets go" in screen_text(app) or "real sensor" in screen_text(app).lower()


async def test_a_case_is_made_chosen_and_weighed_by_keys_alone(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("4", "n", *"Van", "enter")
        await until(pilot, lambda: app.case_id is not None)
        await pilot.press("3")
        await until(pilot, lambda: "Undecided" in screen_text(app))
        assert "missing" in screen_text(app)
        await pilot.press("4", "o")
        await until(pilot, lambda: "Both pages written" in screen_text(app))
        await asyncio.sleep(0)


async def test_a_kick_out_is_asked_about_answered_and_marked_from_every_place(desk_app):
    async with desk_app() as (app, pilot):
        for key in ("3", "4", "1"):
            await pilot.press(key)
            app.desk.show(awaits_answer=True)
            await until(pilot, lambda: "KICK-OUT   what was it?   j foot" in screen_text(app))
            await pilot.press("k")
            await until(pilot, lambda: not app.desk.snapshot().awaits_answer)
            await until(pilot, lambda: "what was it?" not in screen_text(app))
        await until(pilot, lambda: "last: marked: that was the brake" in screen_text(app))
        await pilot.press("3", "m")
        await until(pilot, lambda: "last: marked: felt" in screen_text(app))


async def test_what_is_asked_only_in_drive_says_so_elsewhere(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("4")
        app.desk.show(asks_felt="stand_in")
        await until(pilot, lambda: "2 Drive: y yes, n no" in screen_text(app))


async def test_one_key_eases_back_from_every_place_and_is_named_only_while_it_would(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("3")
        assert "b ease back" not in screen_text(app)
        await pilot.press("2")
        await stand_in(app, pilot)
        await pilot.press("3")
        await until(pilot, lambda: "b ease back" in screen_text(app).splitlines()[-1])
        await pilot.press("b")
        await until(pilot, lambda: app.desk.snapshot().glance.state in ("returning", "rest"), 5)


async def test_evidence_names_keys_only_where_they_would_do_something(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("3")
        await until(pilot, lambda: "No case chosen yet" in screen_text(app))
        keys = screen_text(app).splitlines()[-1]
        assert "n next drive" not in keys
        assert "tests" not in keys
        await pilot.press("n")
        await until(pilot, lambda: "no drive is asked for" in screen_text(app))


async def test_evidence_is_never_cut_and_says_how_much_is_below(desk_app):
    async with desk_app() as (app, pilot):
        await pilot.press("4", "n", *"Van 7", "enter")
        await until(pilot, lambda: app.case_id is not None)
        await pilot.press("3")
        await until(pilot, lambda: "Case: Van 7" in screen_text(app))
        await until(pilot, lambda: "n next drive" in screen_text(app).splitlines()[-1])
        whole = " ".join(app.screen.rows_text().split()).split()
        seen: set[str] = set()
        for _ in range(30):
            seen |= set(screen_text(app).split())
            if "more below" not in screen_text(app):
                break
            await pilot.press("down")
            await asyncio.sleep(0.1)
        assert set(whole) <= seen
