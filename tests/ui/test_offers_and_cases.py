"""Values offered from what is known, and cases found, opened, added to and filed."""

from __future__ import annotations

import ast
import importlib
from pathlib import Path
from types import SimpleNamespace

import pytest

import locum
from locum.casebook.store import Store
from locum.jobs import cases_view
from locum.jobs.circuit import open_circuit
from locum.jobs.offers import offers_of
from locum.locations import workshop_sheets
from locum.ui import words
from locum.ui.cases_text import look_text
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)


@pytest.fixture
def circuit():
    return open_circuit("20C=2.5k,80C=310", None, None)


class Kept:
    """A casebook of one case: temperatures heard, and thresholds."""

    def __init__(self, circuit, celsius, thresholds=()) -> None:
        ohms = [float(circuit.sensor.curve.resistance_ohm(c)) for c in celsius]
        track = {"temperature": {"milliohm": [round(1000 * ohm) for ohm in ohms]}}
        self._reviews = [SimpleNamespace(result=track)] if celsius else []
        self._found = [
            SimpleNamespace(body={"rising_c": up, "falling_c": down}) for up, down in thresholds
        ]

    def drives(self, _case_id):
        return [SimpleNamespace(id="d")]

    def reviews(self, _drive_id):
        return self._reviews

    def findings(self, _case_id, _kind):
        return self._found


def test_cold_as_found_and_warm_as_measured_come_from_the_recordings(circuit):
    heard = [12.0] * 5 + [12 + 75 * n / 100 for n in range(100)] + [88.0] * 40
    offers = {
        o.name: o for o in offers_of(Kept(circuit, heard), "c", circuit, "20C=2.5k,80C=310", 50.0)
    }
    assert offers["cold"].celsius == pytest.approx(12.0, abs=0.2)
    assert offers["warm"].celsius == pytest.approx(88.0, abs=0.2)
    assert "found" in offers["cold"].why


def test_a_glitch_in_the_recording_is_no_temperature_it_was_found_at(circuit):
    heard = [-35.0] + [85.0] * 200 + [139.0]
    offers = {o.name: o.celsius for o in offers_of(Kept(circuit, heard), "c", circuit, None, None)}
    assert offers == {"cold": pytest.approx(85.0, abs=0.2)}


def test_the_newest_threshold_is_offered_in_its_middle(circuit):
    kept = Kept(circuit, [], [(60.0, 50.0), (71.0, 66.0)])
    offers = {o.name: o.celsius for o in offers_of(kept, "c", circuit, None, 40.0)}
    assert offers["threshold"] == pytest.approx(68.5)


def test_without_recordings_the_readings_serve_and_without_those_the_present(circuit):
    kept = Kept(circuit, [])
    typed = offers_of(kept, None, circuit, "20C=2.5k,80C=310", 40.0)
    assert [(o.name, o.celsius) for o in typed] == [("cold", 20.0), ("warm", 80.0)]
    assert [(o.name, o.celsius) for o in offers_of(kept, None, circuit, None, 40.0)] == [
        ("cold", 40.0)
    ]
    assert offers_of(kept, None, circuit, None, None) == ()


@pytest.fixture
def book(tmp_path):
    path = str(tmp_path / "casebook.sqlite")
    with Store.open(path) as store:
        one = store.new_case(
            {"title": "Estate, gearbox hunts", "complaint": {"words": "hunts in rain"}}
        )
        store.new_case({"title": "Coupe, fan always on"})
        store.add_finding(one, "note", {"words": "water in the plug"})
    return path


def test_a_case_in_short_has_its_complaint_and_what_was_noted(book):
    hit = cases_view.case_rows("hunts", book)
    assert [row.title for row in hit] == ["Estate, gearbox hunts"]
    text = look_text(cases_view.look_into(hit[0].id, book))
    assert "hunts in rain" in text
    assert "note: water in the plug" in text


async def test_cases_are_found_used_and_added_to_by_keys(desk_app, book):
    async with desk_app() as (app, pilot):
        await pilot.press("4")
        await until(pilot, lambda: "2 cases" in screen_text(app))
        await pilot.press("slash", *"rain", "enter")
        await until(pilot, lambda: "found by 'rain'" in screen_text(app))
        await pilot.press("enter")
        await until(pilot, lambda: app.desk.snapshot().case_id is not None)
        await until(pilot, lambda: "water in the plug" in screen_text(app))
        await pilot.press("a", *"dried it", "enter")
        await until(pilot, lambda: "note: dried it" in screen_text(app))


async def test_another_case_begins_another_recording_and_forgets_the_car_before(desk_app, book):
    async with desk_app() as (app, pilot):
        await pilot.press("4")
        await until(pilot, lambda: "2 cases" in screen_text(app))
        await pilot.press("enter")
        await until(pilot, lambda: app.desk.snapshot().case_id is not None)
        first = (app.desk.snapshot().case_id, app.desk.snapshot().drive_id)
        await pilot.press("down", "enter")
        await until(pilot, lambda: app.desk.snapshot().case_id not in (None, first[0]), 20)
        await until(pilot, lambda: app.desk.snapshot().drive_id != first[1], 20)
        assert app.desk.setup.sensor is None


async def test_a_recording_that_is_filed_nowhere_goes_into_the_case_in_use(desk_app, book):
    async with desk_app() as (app, pilot):
        loose = app.desk.snapshot().drive_id
        await pilot.press("v")
        await until(pilot, lambda: app.desk.snapshot().drive_id != loose, 20)
        await pilot.press("4")
        await until(pilot, lambda: "filed nowhere" in screen_text(app))
        await pilot.press("end", "enter")
        await until(pilot, lambda: "No case is in use" in screen_text(app))
        await pilot.press("home", "enter")
        await until(pilot, lambda: app.case_id is not None)
        await until(pilot, lambda: "IN USE" in screen_text(app))
        await pilot.press("end", "enter")
        await until(pilot, lambda: "filed nowhere" not in screen_text(app))
        case_id = app.case_id
    with Store.open(book) as store:
        assert loose in [drive.id for drive in store.drives(case_id)]


async def test_every_key_of_a_case_stands_on_a_small_screen_and_pages_in_the_lowest_row(desk_app):
    async with desk_app((80, 24)) as (app, pilot):
        await pilot.press("4", "n", *"Van 7", "enter")
        await until(pilot, lambda: "o pages  n new case" in screen_text(app).split("\n")[-1])
        for word in (
            "n new case",
            "/ find",
            "a note",
            "f defect",
            "p repaired",
            "o pages",
            "x export",
        ):
            assert word in screen_text(app)
        await pilot.press("f")
        await until(pilot, lambda: "the defect that was seen" in screen_text(app))
        await pilot.press("escape")
        await until(pilot, lambda: "f defect   p repaired" in screen_text(app))


def test_each_kind_of_finding_that_is_written_anywhere_has_its_words():
    """Found in the sources: what ``add_finding`` is given, by itself or as the module's ``KIND``."""
    kinds = set()
    for path in Path(locum.__file__).parent.rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        calls = [n for n in ast.walk(tree) if isinstance(n, ast.Call)]
        calls = [
            c for c in calls if getattr(c.func, "attr", "") == "add_finding" and len(c.args) > 1
        ]
        named = {c.args[1].value for c in calls if isinstance(c.args[1], ast.Constant)}
        if any(getattr(c.args[1], "id", "") == "KIND" for c in calls):
            named.add(importlib.import_module(f"locum.jobs.{path.stem}").KIND)
        kinds |= named
    assert {"codes_possible", "foreign_log", "repair", "shortest"} <= kinds
    assert kinds - set(cases_view.QUIET_KINDS) <= set(words.FINDING)


async def test_a_glitch_kept_in_an_earlier_sitting_is_offered_again(desk_app, tmp_path):
    with Store.open(str(tmp_path / "casebook.sqlite")) as store:
        case = store.new_case({"title": "Van 3"})
        store.add_finding(case, "glitch_kept", {"name": "rain-1", "words": "kept as rain-1"})
    kept = workshop_sheets() / "temperature" / "rain-1.csv"
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.write_text("time_s,ohms,contact\n0,250,through\n5,3250,through\n5.4,250,through\n")
    async with desk_app(told={"case": case}) as (app, pilot):
        await until(pilot, lambda: "x give rain-1, blanks between" in screen_text(app))
