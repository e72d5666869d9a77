"""A recording on a served board whose server ends and starts again: another run is no adopted board."""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta

import pytest

from link.test_served_board import Server, wait_for
from locum.casebook.store import Store
from locum.jobs.circuit import open_circuit
from locum.jobs.connection import connect
from locum.jobs.kept_on_board import maybe_left
from locum.jobs.live import begin

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")


class HurriedClock:
    """Goes on by what is waited for, and does not wait."""

    def __init__(self):
        self.passed_s = 0.0

    def now_s(self):
        return self.passed_s

    def utc(self):
        return datetime(2026, 3, 2, 8, 0, tzinfo=UTC) + timedelta(seconds=self.passed_s)

    def wait(self, seconds):
        self.passed_s += seconds


def begun(store, place):
    circuit = open_circuit("parcel_van_coolant", "parcel_van_engine", "parcel_van", None, {})
    link = connect(str(place), circuit.board)
    link.clock = link.board.clock = HurriedClock()
    return begin(link, circuit, store, "listen")


def again(live, wanted):
    """Tick until the link is what is wanted."""

    def came():
        live.tick(1.0)
        return live.link.connection == wanted

    wait_for(came)


def test_another_start_of_the_same_server_is_a_restart_and_the_same_one_is_adopted(book, tmp_path):
    place = tmp_path / "board"
    with Store.open(book) as store:
        with Server(place, "python"):
            live = begun(store, place)
            boot = live.connection.identity.boot_id
            live.tick(0.25)
            live.board.transport.close()  # the plug is out; the board runs on
            again(live, "adopted")
            assert live.connection.identity.boot_id == boot
        again(live, "lost")
        with Server(place, "python"):
            again(live, "restarted")
            assert live.connection.identity.boot_id != boot
            assert "started anew" in live.link.board_does
            assert "board_restarted" in {remark.code for remark in live.link_remarks}
            live.end("link_lost")
            assert maybe_left(store, live.connection) is None, "a memory of another run is not ours"
