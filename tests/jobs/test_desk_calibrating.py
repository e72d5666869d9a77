"""A calibration from the screens: stopped, gone on with, true; the board lost on the way; a hand meter."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from kept_readings import READINGS, keep_readings
from locum.casebook.store import Store
from locum.errors import LinkTrouble, Misuse, Remark
from locum.jobs import connection as opening
from locum.jobs import desk_opening
from locum.jobs.calibration_readings import Measuring
from locum.jobs.calibration_told import look_ahead
from locum.jobs.connection import Connection
from locum.jobs.desk import Desk, Setup
from locum.jobs.desk_calibrating import METER_LINE, hand_meter
from locum.jobs.desk_opening import opened
from locum.jobs.stored_record import chunks_of
from locum.physics.choose import choose_codes
from locum.settings import Settings
from pulled_cable import Cable, LaptopClock, Plug, whole

VAN = {"sensor": "parcel_van_coolant", "module": "parcel_van_engine", "vehicle": "parcel_van"}


@pytest.fixture
def read_before(tmp_path_factory):
    """``read_before(n)``: so many readings were kept when an earlier calibration was stopped."""
    return lambda count: keep_readings(count, str(tmp_path_factory.getbasetemp()))


@pytest.fixture
def sitting(tmp_path):
    """``with sitting() as s``: a desk without its thread, on the virtual van; ``s.turn()`` is one act."""

    @contextmanager
    def sat():
        book = str(tmp_path / "book.sqlite")
        setup = replace(Setup(board="virtual", casebook=book, speed=0.0), **VAN)
        desk = Desk(setup, Settings())
        with Store.open(tmp_path / "book.sqlite") as store, opened(desk, store) as session:
            session.live.tick()
            yield SimpleNamespace(
                desk=desk, session=session, store=store, live=session.live, turn=session._one_act
            )

    return sat


def at_reading(monkeypatch, number: int, act) -> None:
    """Do something as soon as so many readings have been taken."""
    plain = Measuring.read

    def read(self, count, stop=lambda: False):
        taken = plain(self, count, stop)
        if self.done - taken < number <= self.done:
            act()
        return taken

    monkeypatch.setattr(Measuring, "read", read)


def calibrated(s, readings=""):
    s.desk.ask("calibrate", readings, words="calibration")
    s.turn()
    return s.desk.told.calibration


def test_the_key_for_the_real_sensor_stops_it_and_the_next_one_goes_on_there(
    sitting, read_before, monkeypatch
):
    read_before(2400)
    with sitting() as s:
        at_reading(monkeypatch, 2601, s.desk.real_sensor_now)
        look = calibrated(s)
        assert (look.phase, look.done, look.total) == ("stopped", 2601, READINGS)
        assert s.desk.told.outcome.how == "ended"
        assert s.store.calibrations() == []
        assert look_ahead(s.desk.told).kept == 2601
        look = calibrated(s)
        assert (look.phase, look.resumed, s.desk.told.doing) == ("done", 2601, "listen")
        assert s.desk.told.outcome.how == "over"
        assert len(s.store.calibrations()) == 1
        assert not [r for r in s.desk.told.circuit_remarks if r.code == "not_calibrated"]
        assert look_ahead(s.desk.told).kept == 0
        assert s.live.status.source == "real"
        samples = [tuple(r) for c in chunks_of(s.store, s.live.drive_id) for r in c.samples.tolist()]  # fmt: skip
        assert whole(samples), "the recording went on without a hole"
        assert s.live.now_ms > 10_000


def test_what_is_said_to_be_known_holds_for_the_true_network(sitting, read_before):
    read_before(READINGS - 9)
    with sitting() as s:
        known = calibrated(s).known
        circuit = s.live.circuit
        curve, source, body = circuit.sensor.curve, circuit.module.source, s.live.connection.body
        celsius = np.arange(-20.0, 91.0, 2.0)
        choice = choose_codes(circuit.network, curve.resistance_ohm(celsius), source)
        true_ohm = [
            body.truth.one(codes, out, int(hot), source.voc_v, source.rth_ohm)[1]
            for codes, out, hot in zip(choice.codes, choice.out, choice.hot, strict=True)
        ]
        told_k = np.asarray(curve.temperature_c(np.array(true_ohm))) - np.asarray(
            curve.temperature_c(choice.set_ohm)
        )
    assert np.mean(np.abs(told_k) <= known.worst_k) >= 0.94
    assert np.median(np.abs(told_k)) <= known.usual_k
    assert known.to_c - known.from_c == pytest.approx(40.0)
    assert 0.01 < known.usual_k < known.worst_k < 0.7, "DESIGN's limit for a calibrated board"


def test_the_time_left_is_near_what_it_then_takes(sitting, read_before, monkeypatch):
    read_before(1200)
    with sitting() as s:
        at = {}
        for number in (1800, READINGS):
            at_reading(monkeypatch, number, lambda n=number: at.update({n: s.live.clock.now_s()}))
        at_reading(monkeypatch, READINGS, s.desk.real_sensor_now)  # without the arithmetic
        left = {}
        plain = s.session.show

        def show(**changes):
            plain(**changes)
            look = changes.get("calibration")
            if look is not None:
                left[look.done] = look.left_s

        s.session.show = show
        assert calibrated(s).phase == "stopped"
    assert left[1800] == pytest.approx(at[READINGS] - at[1800], rel=0.1)


def test_while_the_stand_in_is_connected_none_begins(sitting):
    with sitting() as s:
        s.desk.ask("hold", "80C")
        s.turn()
        assert s.live.status.source == "stand_in"
        assert not look_ahead(s.desk.told).at_rest
        assert calibrated(s) is None
        assert s.desk.told.outcome.how == "kept"
        assert s.live.status.source == "stand_in", "what is refused changes nothing"
        assert "Ease back" in s.desk.told.remarks[-1].text


def test_something_else_asked_for_meanwhile_is_told_and_connects_nothing_later(
    sitting, read_before, monkeypatch
):
    read_before(2700)
    with sitting() as s:
        at_reading(monkeypatch, 2751, lambda: s.desk.ask("hold", "82C"))
        assert calibrated(s).phase == "done"
        assert "being calibrated" in s.desk.told.news
        for _ in range(20):
            s.turn()
        assert s.live.status.source == "real"


def test_a_board_that_is_lost_keeps_what_was_read_and_one_recording(
    sitting, read_before, monkeypatch
):
    read_before(2400)
    plugs = []

    def connect(_where, sheet, seed=1, _speed=None, world=None):
        inner = opening.virtual_connection(opening._desk_world(seed), sheet, seed, None)
        plug = Plug(inner.body)
        plugs.append(plug)
        clock = LaptopClock(inner.body)
        inner.board.transport, inner.board.clock = Cable(plug), clock
        return Connection(inner.board, clock, inner.identity, inner.abilities, plug.place, reach=plug)  # fmt: skip

    monkeypatch.setattr(desk_opening, "connect", connect)
    with sitting() as s:
        plug, clock = plugs[0], s.live.clock

        def again():
            plug.plugged = True

        def pull():
            plug.pull()
            clock.at(plug.body.elapsed_ms / 1000 + 8.0, again)

        at_reading(monkeypatch, 2451, pull)
        assert calibrated(s).phase == "lost"
        assert s.desk.told.outcome.how == "lost"
        while s.live.link.lost:
            s.turn()
        assert s.live.status.source == "real"
        look = calibrated(s)
        assert (look.phase, look.resumed) == ("done", 2451)
        assert len(s.store.drives()) == 1


def test_a_hand_meter_that_contradicts_is_not_taken_and_may_be_put_right(sitting, read_before):
    read_before(READINGS)
    with sitting() as s:
        assert calibrated(s, "poor 200=230 9k=9k").phase == "refused"
        assert s.store.calibrations() == []
        look = calibrated(s, "bench 0.1% 200=200.1 9k=9.002k")
        assert (look.phase, look.resumed, look.known.meter) == ("done", READINGS, "bench")
        assert s.store.calibrations()[-1].meter == "bench"


@pytest.mark.parametrize(
    "typed", ["bench", "bench 0%", "bench x% 200=200", "200=hot", "1000 = 1002"]
)
def test_readings_that_make_no_sense_are_told_with_an_example(typed):
    with pytest.raises(Misuse, match="9k=9.002k"):
        hand_meter(typed)


def test_a_hand_meter_is_understood_in_any_order_and_may_be_left_away():
    assert hand_meter("") == ("", 0.5, [])
    assert hand_meter(METER_LINE) == ("bench", 0.05, [(200.0, 200.1), (9000.0, 9002.0)])
    assert hand_meter("200=200,1 my meter 9k=9,002k 0,05%")[0] == "my meter"


def test_without_a_second_way_to_the_board_a_lost_link_ends_the_session(sitting, monkeypatch):
    with sitting() as s:

        def gone(*_words, **_options):
            raise LinkTrouble(Remark("gone", "port", "an answer", "none"))

        monkeypatch.setattr(s.live.connection.board, "measure_ohm", gone)
        s.desk.ask("calibrate")
        with pytest.raises(LinkTrouble):
            s.turn()
        assert s.desk.told.calibration.phase == "lost"
