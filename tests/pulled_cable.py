"""A virtual board on a cable that can be pulled, and a laptop that can sleep; for tests of jobs."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from locum.casebook.store import Store
from locum.jobs import connection as opening
from locum.jobs import standing
from locum.jobs.circuit import open_circuit
from locum.jobs.connection import Connection
from locum.jobs.live import begin
from locum.jobs.stored_record import chunks_of
from locum.link.board import Board
from locum.link.transports import link_gone

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


class Cable:
    """A link to a body that can be pulled, and plugged in again under another name."""

    def __init__(self, plug):
        self.plug = plug
        self.name = plug.place
        self.closed = False
        self.coming = b""

    def _there(self):
        if self.closed or not self.plug.plugged or self.name != self.plug.place:
            raise link_gone(self.name, "the other end has closed")

    def write(self, data):
        self._there()
        self.plug.writes += 1
        if self.plug.writes == self.plug.pull_at_write:
            self.plug.pull()
            self._there()
        self.coming += self.plug.body.receive(data)

    def read(self, timeout_s):
        self._there()
        data, self.coming = self.coming, b""
        return data

    def close(self):
        self.closed = True


class Plug:
    """The reach of a virtual board whose cable is in somebody's hand."""

    def __init__(self, body):
        self.body = body
        self.plugged = True
        self.place = "COM5"
        self.writes = 0
        self.pull_at_write = -1

    def pull(self):
        self.plugged = False

    def places(self):
        return [self.place] * self.plugged

    def open(self, place):
        return Cable(self)


class LaptopClock:
    """The body's time, on a laptop whose wall clock may jump; somebody acts at given moments."""

    def __init__(self, body):
        self.body = body
        self.ahead_s = 0.0
        self.asleep_ms = 0
        self.rest_ms = 0.0
        self.acts = []

    def now_s(self):
        return (self.body.elapsed_ms - self.asleep_ms) / 1000

    def utc(self):
        ms = self.body.elapsed_ms
        return START + timedelta(milliseconds=ms) + timedelta(seconds=self.ahead_s)

    def at(self, second, act):
        self.acts.append((second, act))

    def wait(self, seconds):
        self.rest_ms += max(0.0, seconds) * 1000
        whole = int(self.rest_ms)
        self.rest_ms -= whole  # or a wait of less than a millisecond would last for ever
        self.body.advance(whole)
        due = [act for act in self.acts if act[0] <= self.body.elapsed_ms / 1000]
        self.acts = [act for act in self.acts if act not in due]
        for _, act in due:
            act()

    def sleep(self, seconds):
        """The lid is shut: the board and the wall's clock go on, the steady clock stands."""
        self.body.advance(round(seconds * 1000))
        self.asleep_ms += round(seconds * 1000)


class Rig:
    """A recording on a virtual board over a cable."""

    def __init__(self, book):
        self.circuit = open_circuit(
            "parcel_van_coolant", "parcel_van_engine", "parcel_van", None, {}
        )
        made = opening.virtual_connection(_world(), self.circuit.board, 3, None, START)
        self.body = made.body
        self.plug = Plug(self.body)
        self.clock = LaptopClock(self.body)
        made.board.transport = Cable(self.plug)
        made.board.clock = self.clock
        self.link = Connection(
            made.board, self.clock, made.identity, made.abilities, "COM5", reach=self.plug
        )
        self.store = Store.open(book)
        self.live = begin(self.link, self.circuit, self.store, "listen")

    def pull_for(self, seconds, place="COM5"):
        """Pull now; it is plugged in again after so long."""
        self.plug.pull()

        def again():
            self.plug.plugged, self.plug.place = True, place

        self.clock.at(self.body.elapsed_ms / 1000 + seconds, again)

    def restart(self):
        """The board loses its power for a moment: the same serial number, another boot."""
        old = self.body
        self.body = opening.virtual_connection(_world(), self.circuit.board, 3, None, START).body
        self.body.hands.boot_id = old.hands.boot_id + 1
        self.plug.body = self.clock.body = self.body
        self.clock.asleep_ms -= old.elapsed_ms
        self.clock.acts = [(at - old.elapsed_ms / 1000, act) for at, act in self.clock.acts]

    def stand_in(self):
        """Hold what the real sensor is, by hand."""
        standing.prepare(self.live)
        celsius = standing.reachable_start(self.live, standing.measured_real_c(self.live))
        ohm = float(self.circuit.sensor.curve.resistance_ohm(celsius))
        self.live.board.set_resistance(ohm)
        self.live.board.stand_in()
        self.live.stretch("stand_in")
        self.live.wait(5)
        assert self.live.status.state == "holding"

    def record(self):
        """The stored record as one list of samples, and all gaps."""
        chunks = list(chunks_of(self.store, self.live.drive_id))
        samples = [tuple(row) for chunk in chunks for row in chunk.samples.tolist()]
        gaps = [row for chunk in chunks for row in chunk.gaps.tolist()]
        return samples, gaps


def _world():
    from locum.virtual.scenarios import make_demo_world

    world = make_demo_world(3)
    world.tell("engine_start", cold_c=70.0)
    world.tell("drive")
    return world


def plugged_again(rig, place="COM5"):
    """Another program, later, on the same board."""
    rig.plug.plugged, rig.plug.place = True, place
    board = Board(Cable(rig.plug), rig.clock)
    identity = board.identify()
    return Connection(board, rig.clock, identity, board.abilities(), place, reach=rig.plug)


def whole(samples):
    """Whether each sample begins where the one before it ended."""
    ends = [row[0] + row[1] for row in samples]
    return [row[0] for row in samples[1:]] == ends[:-1]
