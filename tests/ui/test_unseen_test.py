"""While an unseen swap test runs nothing that anybody can look at tells which is connected."""

from __future__ import annotations

import asyncio
import dataclasses

import pytest

from locum.casebook.store import Store
from locum.jobs.desk_facts import Setup, Snapshot
from locum.jobs.glance import Glance
from locum.jobs.lines import Event, Line
from locum.jobs.veil import veiled
from locum.ui.asking import asking_text, offers_text
from locum.ui.places.drive import detail_text
from locum.ui.plain_words import status_text
from locum.ui.widgets.running import plain_line
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)


def glance(**changes) -> Glance:
    same = Glance(
        t_s=100.0, state="rest", source="real", following=False, contact="through", cause="",
        told_ohm=300.0, told_c=82.0, true_ohm=300.0, true_c=82.0, node_v=1.15,
        commanded="top gear", held=True, kick_outs=1, last_kick_out_s=90.0, releases=2, glitches=3,
        last_glitch_s=89.0, exposed_s=60.0, standing_left_s=-1, step=0, steps=0,
        saved_behind_s=0.3, lost=0, trouble="", host_present=True, supply="host",
    )  # fmt: skip
    return dataclasses.replace(same, **changes)


def pair() -> tuple[Snapshot, Snapshot]:
    """The same moment with the real sensor and while following, both hidden."""
    made = []
    for connected in ("real", "stand_in"):
        away = connected == "stand_in"
        events = (Event(90.0, "kick_out", "top gear", "none"),
                  Event(80.0, "glitch", "cold", "80 ms, 30 K") if away else
                  Event(80.0, "release", "top gear", "changeover"),
                  Event(70.0, "connected", "following" if away else "real sensor now"))  # fmt: skip
        line = Line(
            99.0, connected, away, 81.9 if away else 82.1, 82.0, "top gear", True, events[:1]
        )
        other = Line(
            97.0, connected, away, 81.9, 82.0, "top gear", True, events[1:] if away else ()
        )
        now = glance(
            state="holding" if away else "rest", source=connected, following=away,
            told_c=81.9 if away else 82.0, standing_left_s=500 if away else -1,
            glitches=3 if away else 2, node_v=1.2 if away else 1.15, steps=4 if away else 0,
        )  # fmt: skip
        made.append(Snapshot(
            Setup(), phase="recording", doing="follow" if away else "listen", glance=now,
            lines=(other, line), hidden=True, foot="still", asks_felt="follow" if away else "real",
        ))  # fmt: skip
    return made[0], made[1]


def test_the_veiled_snapshots_of_both_are_the_same_to_the_last_field():
    real, follow = (veiled(snapshot) for snapshot in pair())
    for field in dataclasses.fields(Snapshot):
        one, other = getattr(real, field.name), getattr(follow, field.name)
        assert repr(one) == repr(other), field.name  # repr: not-a-number is itself


def test_everything_that_is_told_from_them_is_the_same():
    real, follow = (veiled(snapshot) for snapshot in pair())
    for tell in (asking_text, detail_text, lambda s: offers_text(s, "celsius"),
                 lambda s: status_text(s, "celsius"),
                 lambda s: "\n".join(plain_line(x, "celsius", hidden=True) for x in s.lines)):  # fmt: skip
        assert tell(real) == tell(follow)
    assert "KICK-OUT" in plain_line(real.lines[-1], "celsius", hidden=True), "what is felt stays"


def test_without_a_test_nothing_is_taken_out():
    snapshot = dataclasses.replace(pair()[1], hidden=False)
    assert veiled(snapshot) is snapshot


async def test_a_swap_test_runs_unseen_and_is_revealed(desk_app):
    async with desk_app(speed=40.0) as (app, pilot):
        await pilot.press("enter", *"swap 4 1", "enter")
        await until(pilot, lambda: app.desk.snapshot().hidden, 30)
        connected, told = set(), set()
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
                assert snapshot.glance.told_c is None
            await asyncio.sleep(0.05)
        assert {"real", "stand_in"} <= connected, "both were connected while it ran"
        assert len(told) == 1, told
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
        await until(pilot, lambda: app.asked_to_leave)
        await pilot.press("space")
        await until(pilot, lambda: not app.desk.snapshot().hidden, 10)
        assert app.desk.snapshot().glance.source == "real"
