"""Prepare's rows on the screen: chosen, set right by one Enter or a click; units; plan; self-test."""

from __future__ import annotations

import pytest

from locum.bodies.virtual_hands import VirtualHands
from locum.jobs.prepare_line import LINES, changed_setup, understood
from locum.jobs.prepare_view import rows
from locum.ui.places.prepare import WAYS
from ui_counted import PREPARED_KEYS, Hand
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)
SIZES = [(80, 24), (120, 40)]


def flat(app) -> str:
    return " ".join(screen_text(app).split())


async def prepare(pilot, app) -> None:
    await pilot.press("1")
    await until(pilot, lambda: screen_text(app).lstrip().startswith("Prepare"))
    await until(pilot, lambda: "cautions" in screen_text(app))


async def settled(pilot, app) -> None:
    """The recording that follows what was told is under way."""
    await until(pilot, lambda: app.desk.settled)
    ticks = app.desk.snapshot().ticks
    await until(pilot, lambda: app.desk.snapshot().ticks > ticks + 5)


def marked(app) -> str:
    """The row that Enter is for."""
    return next((line for line in screen_text(app).split("\n") if line.startswith(" Enter  ")), "")


@pytest.mark.parametrize("size", SIZES)
async def test_every_row_that_is_not_ready_is_reached_and_has_a_way(desk_app, size):
    async with desk_app(size) as (app, pilot):
        await prepare(pilot, app)
        hand = Hand(pilot, PREPARED_KEYS)
        await hand.does("the next missing row, and its way", "n")
        await until(pilot, lambda: "cautions" in marked(app))
        await hand.does("the next missing row, and its way", "enter")
        await until(pilot, lambda: "Keep clear of turning wheels" in flat(app))
        await pilot.press("a")
        await until(pilot, lambda: "cautions ready" in flat(app))
        seen = []
        for _ in range(3):
            await pilot.press("n")
            await until(pilot, lambda: marked(app) and marked(app) not in seen)
            seen.append(marked(app))
        assert [row.split()[1] for row in seen] == ["calibrated", "plan", "case"]
        hand.check()


async def test_each_row_of_a_recording_board_can_be_chosen_and_says_what_enter_does(desk_app):
    async with desk_app((120, 40)) as (app, pilot):
        await prepare(pilot, app)
        names = [row.name for row in rows(app.desk.snapshot(), False)]
        assert set(WAYS) <= set(names)
        for name in names:
            await pilot.press("down")
            await until(pilot, lambda name=name: marked(app).split()[1:2] == [name])
            if name in WAYS:
                assert f"Enter: {WAYS[name][1]}" in screen_text(app)


@pytest.mark.parametrize(
    ("name", "leads_to"),
    [("cautions", "Keep clear of turning wheels"), ("module", "volts between the plug's two pins?"),
     ("lines", "Which watch line is wired"), ("calibrated", "Calibration: the board measures"),
     ("plan", "profiles at hand"), ("case", "in the casebook")],
)  # fmt: skip
async def test_a_click_on_a_row_does_what_sets_it_right(desk_app, name, leads_to):
    async with desk_app((120, 40)) as (app, pilot):
        await prepare(pilot, app)
        lines = screen_text(app).split("\n")
        row = next(y for y, line in enumerate(lines) if line.split()[:1] == [name])
        await pilot.click(offset=(30, row))
        await until(pilot, lambda: leads_to in flat(app) or
                    (name == "lines" and "Another line?" in flat(app)))  # fmt: skip


@pytest.mark.parametrize(
    ("name", "begins"), [("sensor", "sensor "), ("reach", "reach "), ("board", "board ")]
)
async def test_enter_on_a_row_that_is_typed_begins_its_line(desk_app, name, begins):
    async with desk_app() as (app, pilot):
        await prepare(pilot, app)
        while marked(app).split()[1:2] != [name]:
            await pilot.press("down")
        await pilot.press("enter")
        await until(pilot, lambda: app.focused is not None and app.focused.value == begins)
        await pilot.press(*"now", "escape")
        assert app.focused is None


@pytest.mark.parametrize("size", SIZES)
async def test_a_plan_is_chosen_from_the_list_compiled_and_put_into_drives_line(desk_app, size):
    async with desk_app(size) as (app, pilot):
        await prepare(pilot, app)
        hand = Hand(pilot, PREPARED_KEYS)
        await hand.does("a plan chosen", "p")
        await until(pilot, lambda: "profiles at hand" in flat(app))
        while "warm_hold" not in marked(app):
            await hand.does("a plan chosen", "down")
        await hand.does("a plan chosen", "enter")
        await until(pilot, lambda: "warm_hold: 25 steps, 20 min" in flat(app)
                    or app.screen.plan and app.screen.plan.ok, 20)  # fmt: skip
        hand.check()
        while marked(app).split()[1:2] != ["plan"]:
            await pilot.press("down")
        await until(pilot, lambda: "20 min" in flat(app))
        await pilot.press("enter")
        await until(
            pilot, lambda: app.focused is not None and app.focused.value == "replay warm_hold"
        )
        assert app.desk.snapshot().glance.source == "real", "nothing is sent before Enter there"


@pytest.mark.parametrize("size", SIZES)
async def test_the_self_test_is_told_in_words_with_its_fix_and_done_again(
    desk_app, size, monkeypatch
):
    found = [(False, "potentiometer supply 4900 mV"), (True, "pots, converter, rails, relay")]
    monkeypatch.setattr(VirtualHands, "self_test", lambda _self: found[0])
    async with desk_app(size) as (app, pilot):
        await prepare(pilot, app)
        await until(pilot, lambda: "self-test REFUSED" in flat(app))
        assert "4900 mV" in flat(app)
        assert "look at its regulator" in flat(app)
        found.pop(0)
        hand = Hand(pilot, PREPARED_KEYS)
        await hand.does("the board looks at itself", "s")
        await until(pilot, lambda: "self-test ready" in flat(app))
        assert "relay as set" in flat(app)
        hand.check()


async def test_the_board_does_not_look_at_itself_while_standing_in(desk_app):
    async with desk_app(speed=10.0) as (app, pilot):
        await pilot.press("enter", *"now", "enter")
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in", 30)
        before = app.desk.snapshot().self_test
        await prepare(pilot, app)
        await pilot.press("s")
        await until(
            pilot, lambda: any(r.code == "not_at_rest" for r in app.desk.snapshot().remarks)
        )
        assert app.desk.snapshot().self_test == before


@pytest.mark.parametrize("size", SIZES)
async def test_two_readings_in_fahrenheit_are_taken_for_what_they_are(desk_app, size):
    """68 degF is 20 degC, 176 degF is 80 degC."""
    async with desk_app(size, unit="fahrenheit") as (app, pilot):
        await prepare(pilot, app)
        hand = Hand(pilot, PREPARED_KEYS)
        await hand.does("the sensor told by two readings", "t", *"sensor 68=2.5k,176=310", "enter")
        await until(pilot, lambda: "2.50 kohm at 68.0 F, 310 ohm at 176.0 F" in flat(app))
        assert "read 68.0 F with 2.50 k" in flat(app)
        assert app.desk.setup.sensor == "20C=2500ohm,80C=310ohm"
        hand.check()
        await settled(pilot, app)


@pytest.mark.parametrize("kind", ["sensor", "module", "vehicle"])
async def test_a_word_alone_opens_the_list_of_its_sheets(desk_app, kind):
    async with desk_app() as (app, pilot):
        await prepare(pilot, app)
        await pilot.press("t", *kind, "enter")
        await until(pilot, lambda: f"{kind}s at hand" in flat(app))
        await pilot.press("down", "up", "enter")
        await until(pilot, lambda: f"understood: {kind}" in flat(app))
        await settled(pilot, app)


async def test_a_row_without_a_way_says_so(desk_app):
    async with desk_app((120, 40)) as (app, pilot):
        await prepare(pilot, app)
        while marked(app).split()[1:2] != ["supply"]:
            await pilot.press("down")
        await pilot.press("enter")
        await until(pilot, lambda: "Nothing to be done here" in flat(app))


def test_a_bare_temperature_means_the_unit_and_is_told_back_in_it():
    line = "sensor 68=2.5k,176=310"
    setup = changed_setup(_setup(), line, "fahrenheit")
    assert setup.sensor == "20C=2500ohm,80C=310ohm"
    assert "68.0 F" in understood(setup, line, "fahrenheit")
    assert changed_setup(_setup(), "sensor 20=2.5k", "celsius").sensor == "20C=2500ohm"
    assert changed_setup(_setup(), "sensor 20C=2.5k", "fahrenheit").sensor == "20C=2500ohm"


@pytest.mark.parametrize("line", [line for line, _ in LINES])
def test_every_line_that_is_offered_is_understood(line, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    names = {"sensor": "coolant_2k5", "module": "parcel_van_engine", "vehicle": "parcel_van",
             "circuit": "coolant", "plan": "warm_hold"}  # fmt: skip
    word = line.split()[0]
    typed = line.replace("NAME", names.get(word, ""))
    assert understood(changed_setup(_setup(), typed), typed)


def _setup():
    from locum.jobs.desk_facts import Setup

    return Setup()
