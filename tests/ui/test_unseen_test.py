"""While an unseen swap test runs nothing that anybody can look at tells which is connected."""

from __future__ import annotations

import asyncio
import dataclasses
import re

import pytest

from locum.casebook.store import Store
from locum.errors import Remark
from locum.jobs import prepare_view
from locum.jobs.desk_facts import Snapshot
from locum.jobs.veil import veiled
from locum.ui import words
from locum.ui.asking import asking_text, elsewhere_text, offers_text
from locum.ui.places.drive import detail_text
from locum.ui.plain_status import status_text
from locum.ui.widgets.facts import facts_of
from locum.ui.widgets.running import plain_line
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)


def test_the_veiled_snapshots_of_both_are_the_same_to_the_last_field(hidden_pair):
    real, follow = (veiled(snapshot) for snapshot in hidden_pair)
    for field in dataclasses.fields(Snapshot):
        one, other = getattr(real, field.name), getattr(follow, field.name)
        assert repr(one) == repr(other), field.name  # repr: not-a-number is itself


def test_everything_that_is_told_from_them_is_the_same(hidden_pair):
    real, follow = (veiled(snapshot) for snapshot in hidden_pair)
    for tell in (asking_text, detail_text, lambda s: offers_text(s, "celsius"),
                 lambda s: status_text(s, "celsius"),
                 lambda s: "\n".join(plain_line(x, "celsius", hidden=True) for x in s.lines)):  # fmt: skip
        assert tell(real) == tell(follow)
    assert "KICK-OUT" in plain_line(real.lines[-1], "celsius", hidden=True), "what is felt stays"


def test_how_to_drive_stays_in_sight_beside_every_question(hidden_pair):
    for asked in ({"awaits_answer": True}, {"asks_felt": "real"}, {"awaits_answer": True, "asks_felt": "real"}):  # fmt: skip
        snapshot = dataclasses.replace(hidden_pair[0], **{"asks_felt": "", **asked})
        assert facts_of(snapshot).next == words.FOOT["still"]
        over = elsewhere_text(snapshot, "").split("\n")
        assert over == [over[0], words.FOOT["still"]]
        assert "?" in over[0]


def test_what_was_taken_for_want_of_better_is_not_ready_because_a_test_runs(hidden_pair):
    codes = ("sensor_assumed", "pull_up_assumed", "not_calibrated")
    assumed = tuple(Remark(code, "", "", "", "") for code in codes)
    plain = dataclasses.replace(hidden_pair[1], circuit_remarks=assumed, hidden=False)
    for snapshot in (plain, veiled(dataclasses.replace(plain, hidden=True))):
        word = {row.name: row.word for row in prepare_view.rows(snapshot, True)}
        assert [word[name] for name in ("sensor", "module", "calibrated")] == ["missing"] * 3


def test_without_a_test_nothing_is_taken_out(hidden_pair):
    snapshot = dataclasses.replace(hidden_pair[1], hidden=False)
    assert veiled(snapshot) is snapshot


async def test_a_swap_test_runs_unseen_and_is_revealed(desk_app):
    async with desk_app(speed=40.0) as (app, pilot):
        await pilot.press("enter", *"swap 4 1", "enter")
        await until(pilot, lambda: app.desk.snapshot().hidden, 30)
        connected, told, left = set(), set(), set()
        for _ in range(500):
            snapshot = app.desk.snapshot()
            raw = app.desk.told
            if not raw.hidden:
                break
            if snapshot.hidden:
                connected.add(raw.glance.source)
                text = screen_text(app)
                told.add(text.split("\n")[1].split()[0])
                assert "STAND-IN" not in text, text
                left |= set(re.findall(r"stretch (\d) of 4, (\d) min to go", text))
                assert snapshot.glance.told_c is None
            await asyncio.sleep(0.05)
        assert {"real", "stand_in"} <= connected, "both were connected while it ran"
        assert len(told) == 1, told
        assert {("1", "7"), ("4", "1")} <= left, "four of a minute, each after a boundary of 45 s"
        await until(pilot, lambda: not app.desk.snapshot().hidden, 120)
        await until(pilot, lambda: "A kick-out followed" in " ".join(screen_text(app).split()), 10)
        drive = app.desk.snapshot().drive_id
        book = app.desk.setup.casebook
    with Store.open(book) as store:
        made = store.drive(drive)
        assert made.kind == "swap"
        assert {s.connected for s in made.stretches if s.plan and "swap" in s.plan} == {
            "real",
            "follow",
        }


async def test_leaving_asks_whatever_is_connected_and_real_sensor_now_ends_the_test(desk_app):
    async with desk_app(speed=20.0) as (app, pilot):
        await pilot.press("enter", *"swap 4 5", "enter")
        await until(pilot, lambda: app.desk.snapshot().hidden, 30)
        await pilot.press("q")
        await until(pilot, lambda: "LEAVE?" in screen_text(app))
        await pilot.press("space")
        await until(pilot, lambda: not app.desk.snapshot().hidden, 10)
        assert app.desk.snapshot().glance.source == "real"
