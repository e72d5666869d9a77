"""A running application on the virtual board, its screen as text, and waiting by looking."""

from __future__ import annotations

import asyncio
import dataclasses
import time
from contextlib import asynccontextmanager

import pytest

import monitor
from locum.jobs import connection as opening
from locum.jobs import desk_opening
from locum.jobs.connection import Connection
from locum.jobs.desk import Setup, Snapshot
from locum.jobs.glance import Glance
from locum.jobs.lines import Event, Line
from locum.link.clock import VirtualClock
from locum.settings import Settings
from locum.ui.app import LocumApp
from pulled_cable import Cable, Plug
from ui_helpers import until

SPEED = 2.0
VAN = {"sensor": "parcel_van_coolant", "module": "parcel_van_engine", "vehicle": "parcel_van"}


@pytest.fixture(autouse=True)
def own_folders(tmp_path, monkeypatch):
    """Nobody's casebook, settings or pages are touched."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


@pytest.fixture(autouse=True)
def a_moment_after_each_key(monkeypatch):
    """The pilot would wait for an idle process, and one that records never is: a second or two a key."""

    async def moment(*_limits: float) -> None:
        await asyncio.sleep(0.05)

    monkeypatch.setattr("textual.app.wait_for_idle", moment)
    monkeypatch.setattr("textual.pilot.wait_for_idle", moment)


@pytest.fixture
def desk_app(tmp_path):
    """``async with desk_app(size) as (app, pilot)``: recording on the virtual van.

    ``told``: what the setup holds; nothing for somebody's first start.
    """

    @asynccontextmanager
    async def running(size=(80, 24), speed=SPEED, told=None, **settings):
        setup = Setup(
            **(VAN if told is None else told), board="virtual",
            casebook=str(tmp_path / "casebook.sqlite"), speed=speed,
        )  # fmt: skip
        app = LocumApp(setup, Settings(**settings))
        async with app.run_test(size=size) as pilot:
            await until(pilot, lambda: app.desk.snapshot().glance is not None)
            yield app, pilot
            await asyncio.to_thread(app.desk.close, 3.0)

    return running


def glance(**changes) -> Glance:
    same = Glance(
        t_s=100.0, state="rest", source="real", following=False, contact="through", cause="",
        told_ohm=300.0, told_c=82.0, true_ohm=300.0, true_c=82.0, node_v=1.15,
        commanded="top gear", held=True, kick_outs=1, last_kick_out_s=90.0, releases=2, glitches=3,
        last_glitch_s=89.0, exposed_s=60.0, standing_left_s=-1, step=0, steps=0,
        saved_behind_s=0.3, lost=0, trouble="", host_present=True, supply="host",
    )  # fmt: skip
    return dataclasses.replace(same, **changes)


def both_connections() -> tuple[Snapshot, Snapshot]:
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


@pytest.fixture
def a_glance():
    """``a_glance(source="stand_in")``: one look, with these changes."""
    return glance


@pytest.fixture
def hidden_pair():
    """The same moment of an unseen test with the real sensor and while following."""
    return both_connections()


# -- a cable in somebody's hand ----------------------------------------------------------------

CABLE_SPEED = 4.0


class MutePlug(Plug):
    """A cable in somebody's hand, on which the board can also fall silent."""

    silent = False

    def open(self, place):
        return MuteCable(self)


class MuteCable(Cable):
    def read(self, timeout_s):
        data = super().read(timeout_s)
        if not self.plug.silent:
            return data
        time.sleep(timeout_s)  # as a port does that has nothing to say
        return b""


@pytest.fixture
def plugs(monkeypatch):
    """Every board the desk opens hangs on a cable; the newest is the last."""
    made: list[MutePlug] = []
    made_witness: list[monitor.Monitor] = []

    def connect(_where, board_sheet, seed=1, told_speed=None, world=None):
        speed = max(CABLE_SPEED, told_speed or 0.0)
        inner = opening.virtual_connection(
            opening._desk_world(seed), board_sheet, seed, speed,
            monitor=lambda body: made_witness.append(monitor.attach(body)),
        )  # fmt: skip
        plug = MutePlug(inner.body)
        made.append(plug)
        inner.board.transport = MuteCable(plug)
        inner.board.clock = VirtualClock(inner.body, speed)
        return Connection(inner.board, inner.board.clock, inner.identity, inner.abilities,
                          plug.place, reach=plug)  # fmt: skip

    monkeypatch.setattr(desk_opening, "connect", connect)
    yield made
    assert [breach for one in made_witness for breach in one.breaches] == []
