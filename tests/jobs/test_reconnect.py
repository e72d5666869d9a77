"""The link is pulled during a recording: looked for, found under any port, told apart, told about."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from locum.casebook.store import Store
from locum.errors import LinkTrouble
from locum.jobs import standing
from locum.jobs.circuit import open_circuit
from locum.jobs.connection import Connection, virtual_connection
from locum.jobs.live import begin
from locum.jobs.stored_record import chunks_of
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
        self.acts = []

    def now_s(self):
        return (self.body.elapsed_ms - self.asleep_ms) / 1000

    def utc(self):
        ms = self.body.elapsed_ms
        return START + timedelta(milliseconds=ms) + timedelta(seconds=self.ahead_s)

    def at(self, second, act):
        self.acts.append((second, act))

    def wait(self, seconds):
        self.body.advance(round(seconds * 1000))
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
        made = virtual_connection(_world(), self.circuit.board, 3, None, START)
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
        self.body = virtual_connection(_world(), self.circuit.board, 3, None, START).body
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


@pytest.fixture
def rig(book):
    made = Rig(book)
    yield made
    made.store.close()


def whole(samples):
    """Whether each sample begins where the one before it ended."""
    ends = [row[0] + row[1] for row in samples]
    return [row[0] for row in samples[1:]] == ends[:-1]


def test_a_listening_board_is_taken_up_again_and_nothing_is_missing(rig):
    live = rig.live
    live.wait(10)
    rig.pull_for(30)
    live.tick()
    assert live.link.lost
    assert "real sensor is connected" in live.link.board_does
    assert "plug it in again" in live.link.what_next
    live.wait(40)
    assert live.link.connection == "adopted"
    assert 29 <= live.link.since_s <= 33
    samples, gaps = rig.record()
    assert whole(samples)
    assert not gaps
    assert samples[-1][0] > 45_000
    live.recorder.save()
    told = rig.store.drive(live.drive_id).gaps
    assert "answers again" in told[0].why
    assert "fetched now" in told[0].why
    live.wait(70)
    assert live.link.connection == "connected"
    assert live.link.text == ""
    assert "link_gap" in {r.code for r in live.link_remarks}


def test_a_renumbered_port_is_followed_by_the_serial_number(rig):
    rig.live.wait(3)
    rig.pull_for(5, place="COM9")
    rig.live.wait(20)
    assert rig.live.link.connection == "adopted"
    assert rig.live.link.place == "COM9"
    assert "port_renamed" in {r.code for r in rig.live.link_remarks}


def test_a_stand_in_goes_home_by_itself_and_that_is_told(rig):
    rig.stand_in()
    live = rig.live
    rig.pull_for(40)
    live.tick(0.25)
    first = live.link.board_does
    assert "eases back" in first
    live.wait(45)
    assert live.link.connection == "adopted"
    assert live.came_home
    assert "eased back by itself" in live.link.board_does
    assert "start again" in live.link.what_next
    assert live.status.source == "real"
    drive = rig.store.drive(live.drive_id)
    assert [s.connected for s in drive.stretches] == ["real", "stand_in", "real"]
    samples, _ = rig.record()
    assert whole(samples)


def test_a_short_gap_leaves_the_stand_in_where_it_is(rig):
    rig.stand_in()
    rig.pull_for(1.0)
    rig.live.wait(4)
    assert rig.live.link.connection == "adopted"
    assert rig.live.status.state == "holding"
    assert not rig.live.came_home
    assert "stood in all the time" in rig.live.link.board_does


def test_the_key_for_the_real_sensor_is_remembered_while_the_board_is_lost(rig):
    rig.stand_in()
    live = rig.live
    rig.pull_for(2.0)
    live.tick(0.25)
    live.board.real_sensor_now()
    live.tick(0.25)
    assert "asked for as soon as it answers" in live.link.what_next
    live.wait(3)
    live.tick()
    assert live.status.state == "rest"
    assert live.status.source == "real"


def test_other_orders_are_refused_while_the_board_is_lost(rig):
    rig.live.wait(2)
    rig.pull_for(30)
    rig.live.tick()
    with pytest.raises(LinkTrouble):
        rig.live.board.set_resistance(1000.0)


def test_a_board_that_started_anew_is_told_apart(rig):
    live = rig.live
    live.wait(10)
    rig.pull_for(8)
    rig.restart()
    live.wait(20)
    assert live.link.connection == "restarted"
    assert "started anew" in live.link.board_does
    assert live.connection.identity.boot_id == rig.body.hands.boot_id
    assert rig.record()[1][0][0] == 10_000
    before = live.now_ms
    live.wait(5)
    assert live.now_ms > before + 4000


def test_another_board_is_left_alone(rig):
    live = rig.live
    live.wait(2)
    rig.pull_for(2)
    serial = rig.body.hands.serial
    rig.body.hands.serial = "V9999"
    for _ in range(10):
        live.tick(1.0)
    assert live.link.lost
    assert "another_board" in {r.code for r in live.link_remarks}
    rig.body.hands.serial = serial
    live.wait(5)
    assert live.link.connection == "adopted"


def test_a_board_that_never_comes_back_ends_the_recording_in_plain_words(rig):
    rig.live.wait(2)
    rig.live.tether.give_up_s = 60.0
    rig.plug.pull()
    with pytest.raises(LinkTrouble, match="other end has closed"):
        rig.live.wait(120)
    rig.live.end("link_lost")
    assert rig.store.drive(rig.live.drive_id).how == "link_lost"


@pytest.mark.parametrize("write", range(1, 12))
def test_a_cable_may_be_pulled_in_the_middle_of_any_question(rig, write):
    """What was handed over before is kept; what was under way is counted, never papered over."""
    live = rig.live
    live.wait(3)
    rig.plug.pull_at_write = rig.plug.writes + write
    rig.clock.at(rig.body.elapsed_ms / 1000 + 15, lambda: setattr(rig.plug, "plugged", True))
    live.wait(25)
    assert live.link.connection in ("adopted", "connected")
    samples, gaps = rig.record()
    missing = sum(row[2] for row in gaps)
    assert whole(samples) == (missing == 0)


def test_marks_made_while_the_board_is_lost_keep_their_time(rig):
    live = rig.live
    live.wait(10)
    rig.pull_for(20)
    live.tick()
    for _ in range(10):
        live.tick(1.0)
    live.mark("key")
    live.wait(20)
    mark = rig.store.drive(live.drive_id).marks[0]
    assert 18_000 <= mark.t_ms <= 23_000
    assert any(abs(t - mark.t_ms) < 2000 for t, _ in live.findings.marks)


def test_a_laptop_that_slept_is_recognised_and_the_board_adopted(rig):
    rig.stand_in()
    live = rig.live
    rig.clock.sleep(300)
    live.tick()
    assert live.link.connection == "adopted"
    assert live.link.slept_s == pytest.approx(300, abs=2)
    assert "computer slept for 300 s" in live.link.happened
    assert "real sensor" in live.link.board_does
    assert live.came_home
    assert "computer_slept" in {r.code for r in live.link_remarks}
    samples, _ = rig.record()
    assert samples[-1][0] > 300_000


def test_a_clock_that_was_set_is_no_sleep(rig):
    live = rig.live
    live.wait(3)
    rig.clock.ahead_s += 3600
    live.tick()
    assert live.link.connection == "connected"
    assert {r.code for r in live.link_remarks} == {"computer_clock_set"}


def test_a_plan_that_runs_on_is_adopted_running(rig):
    from locum.jobs.profiles import plan_of
    from locum.planning.timeline import line
    from locum.sheets.profile import ProfileSheet

    live = rig.live
    standing.prepare(live)
    profile = ProfileSheet("long", "long", "celsius", (), on_silence="finish")
    span = line("long", "hold", (0, 70), (900, 70))
    spans = standing.with_way_in(live, [span], False)
    standing.run_plan(live, plan_of(profile, live.circuit, False, spans=spans))
    live.wait(20)
    assert live.status.state == "running"
    rig.pull_for(120)
    live.tick()
    assert "plays its plan to the end" in live.link.board_does
    live.wait(130)
    assert live.link.connection == "adopted"
    assert live.status.state == "running"
    assert "went on with its plan" in live.link.board_does
    samples, _ = rig.record()
    assert whole(samples)


def test_without_a_second_way_to_the_board_a_lost_link_is_an_error(rig):
    rig.live.wait(1)
    rig.link.reach = None
    rig.live.board.tethered = False
    rig.plug.pull()
    with pytest.raises(LinkTrouble):
        rig.live.wait(5)
