"""Ctrl-C in the middle: the real sensor again, the record closed and kept, the result told."""

from __future__ import annotations

import signal

import pytest

from locum.casebook.store import Store
from locum.link.clock import VirtualClock

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van",
       "--board", "virtual")  # fmt: skip
VERBS = {
    "hold": ("hold", "now", "--minutes", "10"),
    "sweep": ("sweep", "70", "75", "--minutes", "10"),
    "follow": ("follow", "--minutes", "10"),
    "open": ("open", "--ms", "60000"),
    "glitch": ("glitch", "--count", "20"),
    "listen": ("listen", "--minutes", "10"),
    "threshold": ("threshold", "--from", "48", "--to", "62"),
    "swap": ("swap", "--stretches", "4", "--minutes", "5"),
}


@pytest.fixture
def press(monkeypatch):
    """``press(60)``: Ctrl-C when the board's world has gone on for a minute; several times may be told."""
    before = signal.getsignal(signal.SIGINT)

    def at(*moments_s: float) -> None:
        left = sorted(moments_s)
        plain = VirtualClock.wait

        def wait(self, seconds: float) -> None:
            plain(self, seconds)
            while left and self.now_s() >= left[0]:
                left.pop(0)
                signal.raise_signal(signal.SIGINT)

        monkeypatch.setattr(VirtualClock, "wait", wait)

    yield at
    signal.signal(signal.SIGINT, before)


def kept(book: str, drive: str):
    with Store.open(book) as store:
        return store.drive(drive), store.reviews(drive)[-1].result


@pytest.mark.parametrize("verb", list(VERBS))
def test_once_eases_back_and_keeps_the_record(locum, book, press, verb):
    press(70.0)
    ran = locum(*VERBS[verb], *VAN, "--casebook", book)
    assert (ran.code, ran.json["ended"]) == (0, "stopped"), ran.talk
    drive, result = kept(book, ran.json["drive"])
    assert drive.how == "stopped"
    assert ran.json["seconds"] < 70 + 35
    assert not result["sources"] or result["sources"][-1][1] == "real"


def test_twice_is_the_real_sensor_now(locum, book, press):
    """Held 15 K from the real value the way back takes 15 s; twice takes none of it."""
    press(120.0, 121.0)
    ran = locum("hold", "60C", "--fast", "--minutes", "10", *VAN, "--casebook", book)
    assert (ran.code, ran.json["ended"]) == (0, "stopped"), ran.talk
    _, result = kept(book, ran.json["drive"])
    left_ms = result["sources"][-1][0]
    assert 118_000 < left_ms < 123_000


def test_before_anything_is_connected_nothing_is(locum, book, press):
    """Pressed while the way in is still being looked at: the plan is not started."""
    press(1.0)
    ran = locum("hold", "now", "--minutes", "10", *VAN, "--casebook", book)
    assert (ran.code, ran.json["ended"]) == (0, "stopped"), ran.talk
    assert kept(book, ran.json["drive"])[1]["sources"] == []
    assert ran.json["seconds"] < 30


def test_pressed_again_while_the_record_is_closed_loses_nothing(locum, book, press, monkeypatch):
    from locum.jobs.live import Live

    plain = Live.end

    def end(self, how: str = "done", version: str = ""):
        signal.raise_signal(signal.SIGINT)
        return plain(self, how, version)

    monkeypatch.setattr(Live, "end", end)
    press(30.0)
    ran = locum("listen", "--minutes", "10", *VAN, "--casebook", book)
    assert (ran.code, ran.json["ended"]) == (0, "stopped"), ran.talk
    assert kept(book, ran.json["drive"])[0].how == "stopped"
