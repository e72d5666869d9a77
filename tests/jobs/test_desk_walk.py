"""Every key in odd order at odd moments: what the module sees is what was asked for, and is told.

Theory of operation. The desk's worker runs here in the test's own thread, on a virtual board over a
cable that can be pulled. A restless person, drawn by a seed, presses keys whenever the worker looks for
urgent ones and also in the middle of what goes over the cable: while a plan is uploaded, while it eases
back, while the board is lost. What the relay really does is read from the board's own pins.
"""

from __future__ import annotations

import random
from collections import Counter

import pytest

import monitor
from locum.casebook.store import Store
from locum.jobs import connection as opening
from locum.jobs import desk_opening
from locum.jobs.connection import Connection
from locum.jobs.desk import Asked, Desk, Setup
from locum.jobs.stored_record import chunks_of
from locum.settings import Settings
from locum.ui import words
from locum.ui.widgets.facts import facts_of
from pulled_cable import Cable, LaptopClock, Plug

VAN = {"sensor": "parcel_van_coolant", "module": "parcel_van_engine", "vehicle": "parcel_van"}
TICKS = 1400
"""Looks for urgent keys in one walk: some minutes of the board's time."""
AT_A_TICK, ON_THE_WIRE = 0.05, 0.004
"""How often the person does something, at a look and at a message of the cable."""
SOON_MS = 1000
"""So soon after its key the real sensor is connected, where there is a link."""
CONNECTS = (
    ("hold", ("82C",)), ("hold", ("now",)), ("hold", ("400ohm",)), ("hold", ("70C", True)),
    ("follow", ()), ("sweep", ("70C", "75C", 1.0)), ("contact", ("cold", 200)),
    ("contact", ("hot", 60)), ("glitch", ((60,), 2)), ("replay", ("warm_hold",)), ("hold", ("200C",)),
    ("glitch", (("no_such_capture",), 1)), ("swap", (4, 1.0)), ("extend", ()), ("stay", ()),
)  # fmt: skip
"""Acts that a key or a typed line asks for, sensible and not."""


class Wire(Cable):
    """A cable on which somebody may do something between two messages."""

    person: Person | None = None

    def write(self, data):
        if Wire.person is not None:
            Wire.person.maybe(ON_THE_WIRE)
        super().write(data)


class Socket(Plug):
    clock: LaptopClock

    def open(self, place):
        return Wire(self)


class Person:
    """Somebody who presses anything at any moment, and watches the relay."""

    def __init__(self, seed: int, desk: Desk) -> None:
        self.random = random.Random(seed)
        self.desk = desk
        self.plug: Socket | None = None
        self.did: Counter[str] = Counter()
        self.seen: Counter[str] = Counter()
        """States of the board, phases of the desk and acts that were come through."""
        self.faults: list[str] = []
        self.witnesses: list[monitor.Monitor] = []
        self.ticks = 0
        self.may_connect = False
        self.was_connected = False
        self.now_since_ms: int | None = None
        self.busy = False

    # -- pressing --------------------------------------------------------------------------------

    def maybe(self, how_often: float) -> None:
        if not self.busy and self.plug is not None and self.random.random() < how_often:
            self.busy = True
            self.press()
            self.busy = False

    def press(self) -> None:
        draw, desk = self.random, self.desk
        what = draw.choices(
            ("connect", "now", "ease", "mark", "felt", "calibrate", "pull", "reopen", "then", "early"),
            (40, 5, 6, 10, 5, 3, 2, 1, 1, 4),
        )[0]  # fmt: skip
        self.did[what] += 1
        if what == "connect":
            act, arguments = draw.choice(CONNECTS)
            self.may_connect |= act not in ("extend", "stay")
            desk.ask(act, *arguments, words=act)
        elif what == "now":
            self.may_connect = False
            self.now_since_ms = self.plug.body.elapsed_ms if self.plug else None
            desk.real_sensor_now()
        elif what == "ease":
            self.may_connect = False
            desk.ease_back()
        elif what == "mark":
            desk.mark(draw.choice(("key", "foot", "brake", "road")), draw.choice((0.0, 10.0, -5.0)))
        elif what == "felt":
            desk.ask("felt", draw.random() < 0.5)
        elif what == "calibrate":
            desk.ask("calibrate", draw.choice(("", "bench 200=210 9k=9k")), words="calibration")
        elif what == "pull":
            self.pull(draw.choice((0.3, 2.0, 8.0, 40.0)))
        elif what in ("reopen", "then"):
            self.may_connect = what == "then"
            then = Asked("follow", (), "") if what == "then" else None
            desk.reopen(desk.setup, then)
        else:
            desk.mark("key", -5.0)

    def pull(self, seconds: float) -> None:
        plug = self.plug
        assert plug is not None
        plug.pull()
        self.now_since_ms = None

        def again() -> None:
            plug.plugged = True

        plug.clock.at(plug.body.elapsed_ms / 1000 + seconds, again)

    # -- watching --------------------------------------------------------------------------------

    def look(self) -> None:
        """At every look of the worker for urgent keys: what is shown is what is so."""
        self.ticks += 1
        if self.plug is None:
            return
        hands, told = self.plug.body.hands, self.desk.told
        connected = bool(hands.energised)
        self.seen.update((told.phase, told.doing, told.glance.state if told.glance else ""))
        if connected and not self.was_connected and not self.may_connect:
            self.faults.append(f"tick {self.ticks}: connected without having been asked")
        self.was_connected = connected
        if told.phase == "recording" and told.glance is not None:
            self._compare(connected, told)
        if self.now_since_ms is not None and not connected:
            self.now_since_ms = None
        if self.now_since_ms is not None:
            waited_ms = self.plug.body.elapsed_ms - self.now_since_ms
            if waited_ms > SOON_MS and self.plug.plugged and not self.may_connect:
                self.faults.append(f"tick {self.ticks}: real sensor asked {waited_ms} ms ago")
                self.now_since_ms = None

    def _compare(self, connected: bool, told) -> None:
        said = facts_of(told).connected
        allowed = {"NOT SHOWN"} if told.hidden else {words.SOURCE["moving"]}
        if not told.hidden:
            allowed.add(words.SOURCE["stand_in" if connected else "real"])
        if said not in allowed:
            self.faults.append(f"tick {self.ticks}: says {said}, relay {connected}")
        seen = facts_of(self.desk.snapshot()).connected
        if told.hidden and seen != "NOT SHOWN":
            self.faults.append(f"tick {self.ticks}: the unseen test shows {seen}")


def walk(seed: int, tmp_path, monkeypatch) -> tuple[Person, str]:
    """One walk to its end; the person, and the casebook."""
    book = str(tmp_path / "book.sqlite")
    desk = Desk(Setup(**VAN, board="virtual", casebook=book, seed=seed), Settings())  # pyright: ignore
    person = Person(seed, desk)

    def connect(_where, sheet, seed=1, _speed=None, world=None):
        inner = opening.virtual_connection(
            opening._desk_world(seed), sheet, seed, None,
            monitor=lambda body: person.witnesses.append(monitor.attach(body)),
        )  # fmt: skip
        plug = Socket(inner.body)
        plug.clock = clock = LaptopClock(inner.body)
        inner.board.transport, inner.board.clock = Wire(plug), clock
        person.plug, person.was_connected = plug, False
        return Connection(inner.board, clock, inner.identity, inner.abilities, plug.place, reach=plug)  # fmt: skip

    take_urgent = desk.take_urgent

    def look() -> str:
        person.look()
        person.maybe(AT_A_TICK)
        if person.ticks == TICKS // 2 and person.plug is not None:
            person.pull(8.0)  # whatever was drawn: once at least the board is lost
        if person.ticks >= TICKS:
            desk._closing.set()
        return take_urgent()

    monkeypatch.setattr(desk_opening, "connect", connect)
    monkeypatch.setattr(desk, "take_urgent", look)
    monkeypatch.setattr(desk, "_pause", lambda seconds: None)
    monkeypatch.setattr(Wire, "person", person)
    desk._work()
    return person, book


def holes(store: Store, drive_id: str) -> list[tuple[int, int]]:
    """Time missing between two samples of a recording that no counted gap tells of. [ms]"""
    chunks = list(chunks_of(store, drive_id))
    rows = [row for chunk in chunks for row in chunk.samples.tolist()]
    counted = [(g.t_ms, g.until_ms) for g in store.drive(drive_id).gaps]
    counted += [(int(g["t_ms"]), int(g["until_ms"])) for c in chunks for g in c.gaps]
    missing = [
        (a[0] + a[1], b[0]) for a, b in zip(rows, rows[1:], strict=False) if a[0] + a[1] != b[0]
    ]
    return [
        (start, end)
        for start, end in missing
        if not any(low <= end and until >= start for low, until in counted)
    ]


@pytest.mark.timeout(300)
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_whatever_is_pressed_whenever_the_real_sensor_comes_and_the_word_is_true(
    seed, tmp_path, monkeypatch
):
    person, book = walk(seed, tmp_path, monkeypatch)
    assert person.faults == [], person.faults
    assert [breach for witness in person.witnesses for breach in witness.breaches] == []
    assert person.ticks >= TICKS, "the worker went on to the end"
    assert person.desk.told.phase == "ended"
    assert not [r for r in person.desk.told.remarks if r.code == "unforeseen"]
    assert person.did["now"] > 2
    assert person.did["connect"] > 10
    assert {"rest", "running", "lost", "recording"} <= set(person.seen)
    assert person.plug is not None
    body = person.plug.body
    body.advance(1000 if person.plug.plugged else 25_000)
    assert not body.hands.energised, "whoever has left: the real sensor is connected"
    with Store.open(book) as store:
        drives = store.drives()
        assert drives
        for drive in drives:
            assert drive.how, "every recording was brought to its end"
            assert holes(store, drive.id) == []
