"""The Raspberry Pi body on gpiozero's mock pins, chips listening to every bit on the bus."""

import threading
import time

import gpiozero
import pytest
from gpiozero.pins.mock import MockFactory

from bodies.wired_pi import OUT, PINS, ROOT, SHEET, Pi, WiredFactory, as_block
from firmware.bench import WATCH
from locum.bodies.pace import Pace
from locum.bodies.pi import UNHURRIED, PiBody, open_pi, reached_here
from locum.bodies.pi_hands import PiHands
from locum.errors import BoardFault, LinkTrouble
from locum.sheets.board import read_board
from locum_board import steps, words
from locum_board.framing import Framing
from locum_board.records import Ring
from locum_board.status import Status
from locum_board.tree import Tree


@pytest.fixture
def pi(tmp_path):
    board = Pi(tmp_path / "kept")
    yield board
    board.body.close()
    board.factory.reset()


def stand_in(pi, code=100):
    pi.run(50)
    assert pi.tell(f"SOUR:CODE {code},{code},{OUT},{OUT},0,65535,0,-1").startswith("0,")
    assert pi.tell("OUTP ON").startswith("0,")
    pi.run(60)


def test_first_words_take_every_wiper_out(pi):
    assert [pot.words[0] for pot in pi.bench.pots] == [0x41CC, 0x41CC]


def test_nothing_is_driven_until_it_is_asked_for(pi):
    pi.run(200)
    assert [pi.pin(name).state for name in ("RELAY", "HEART", "SHORT", "HOT1", "LED")] == [0] * 5


def test_standing_in_puts_the_network_on_the_line(pi):
    stand_in(pi, 100)
    assert pi.bench.energised
    one = 75 + 10000 * 100 / 256
    assert pi.bench.network_ohm == pytest.approx(36 + one / 2, rel=1e-4)
    assert pi.ask("OUTP?") == "1"


def test_off_releases_the_coil_and_stops_the_pump(pi):
    stand_in(pi)
    pi.tell("OUTP OFF")
    pi.run(1)
    assert (pi.pin("RELAY").state, pi.pin("HEART").state) == (0, 0)


def test_a_potentiometer_without_power_is_never_connected(pi):
    pi.run(50)
    pi.tell(f"SOUR:CODE 100,100,{OUT},{OUT},0,65535,0,-1")
    pi.bench.pots[0].powered = False
    pi.tell("OUTP ON")
    pi.run(60)
    assert pi.pin("RELAY").state == 0
    assert pi.ask("OUTP:PROT:CAUS?") == '10,"fault"'


def test_a_player_that_raises_ends_at_rest_and_says_so(pi, monkeypatch):
    stand_in(pi)

    def broken(_now):
        raise RuntimeError("planted")

    monkeypatch.setattr(pi.body.engine, "advance", broken)
    pi.body._play()
    assert pi.pin("RELAY").state == 0
    with pytest.raises(BoardFault, match="planted"):
        pi.body.receive(b"*IDN?\n")


def test_line_levels_are_read_whatever_is_soldered(pi):
    pi.pin("WATCH5").drive_high()
    pi.pin("WATCH2").drive_high()
    assert pi.hands.lines() == 0b010010


def test_closing_leaves_inputs_and_the_coil_released(pi):
    stand_in(pi)
    pi.body.close()
    assert pi.pin("RELAY").function == "input"
    assert not pi.bench.energised


def test_what_is_kept_survives_and_a_torn_file_does_not(pi):
    assert pi.hands.store("cal", b"table")
    assert pi.hands.recall("cal") == b"table"
    path = pi.hands._kept / "cal"
    path.write_bytes(path.read_bytes()[:-1] + b"?")
    assert pi.hands.recall("cal") is None


def test_a_software_bus_is_an_error(tmp_path):
    class Soft(MockFactory):
        def spi(self, **_arguments):
            import warnings

            warnings.warn(gpiozero.SPISoftwareFallback("no spidev"), stacklevel=1)

    with pytest.raises(LinkTrouble, match="dtparam=spi=on"):
        PiHands(SHEET, Soft(revision="c03111"), tmp_path)


def test_the_rate_that_is_reached_is_told_and_everything_is_let_go(tmp_path, monkeypatch):
    """900 readings in a second, one gap of 20 ms; the player's thread is played here."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))

    def play(body):
        for n in range(881):
            body.pace.beat(5.0 + n / 900)
        for n in range(20):
            body.pace.beat(5.0 + 880 / 900 + 0.02 + n / 900)

    def until_played(_seconds):
        for thread in threading.enumerate():
            if thread.name == "player":
                thread.join()

    monkeypatch.setattr(PiBody, "_play", play)
    factory = WiredFactory(revision="c03111")
    reached = reached_here(SHEET, factory=factory, wait=until_played)
    assert reached.readings == 900
    assert reached.seconds == pytest.approx(880 / 900 + 0.02 + 19 / 900)
    assert reached.longest_gap_ms == pytest.approx(20)
    assert factory.pin(PINS["RELAY"]).function == "input"
    factory.reset()


def test_every_beat_of_the_player_is_one_reading(pi, monkeypatch):
    taken = []
    plain = pi.hands.sample
    monkeypatch.setattr(pi.hands, "sample", lambda: (taken.append(1), plain()))
    monkeypatch.setattr(time, "sleep", lambda _seconds: len(taken) >= 50 and pi.body._stop.set())
    pi.body._play()
    assert pi.body.pace.reached().readings == len(taken) - 1 == 49


def elsewhere(doing):
    """Run it in a thread of its own; whether it came to its end while the caller waits."""
    thread = threading.Thread(target=doing, daemon=True)
    thread.start()
    thread.join(5.0)
    return not thread.is_alive()


def whole_plan():
    rows = steps.pack_step(20, [100, 100, OUT, OUT]) * steps.MAX_STEPS
    return steps.plan_block(rows)


LONG_TALK = {
    "a plan of 2,000 steps is checked": (steps, "step_fault", as_block(b"LIST:DATA", whole_plan())),
    "64 kB of another's bytes": (Status, "error", b"\xff#\n" * 21846),
    "a block of 64 kB that has no place": (
        Framing,
        "_payload",
        as_block(b"LIST:DATA", bytes(65536)),
    ),
    "a block of record": (Ring, "take", b"TRAC:DATA?\n"),
    "the list of headers": (Tree, "headers", b"SYST:HELP:HEAD?\n"),
}


@pytest.mark.parametrize("what", LONG_TALK)
def test_no_beat_of_the_player_waits_for_talk(pi, monkeypatch, what):
    """In the middle of the longest things talk does, the player plays on in its own thread."""
    pi.run(30)
    place, name, data = LONG_TALK[what]
    plain, played = getattr(place, name), []

    def meanwhile(*arguments):
        if not played:
            pi.ms += 1
            played.append(elsewhere(pi.body.advance))
        return plain(*arguments)

    monkeypatch.setattr(place, name, meanwhile)
    pi.body.receive(data)
    assert played == [True]


def test_no_beat_sees_a_setting_half_made(pi, monkeypatch):
    plain, played = words.choice, []

    def meanwhile(*arguments):
        played.append(pi.body._beats.acquire(blocking=False))
        return plain(*arguments)

    def from_outside(*arguments):
        elsewhere(lambda: meanwhile(*arguments))
        return plain(*arguments)

    monkeypatch.setattr(words, "choice", from_outside)
    assert pi.tell("SENS:RES:HOT 5000,RISE").startswith("0,")
    assert played == [False]


def test_what_is_done_unhurriedly_is_there_and_what_sets_something_is_not_among_it(pi):
    talk = pi.body.engine.talk
    assert all(callable(getattr(talk, name)) for name in UNHURRIED)
    apart = {name for name, method in vars(talk).items() if callable(method)}
    assert {"set_ladder", "set_hot", "extend_standing", "clear_status", "self_test"} <= apart
    assert not apart & UNHURRIED


def test_beats_left_out_are_counted_and_lateness_is_told_in_microseconds(pi):
    stand_in(pi)
    plan = steps.plan_block(steps.pack_step(10, [100, 100, OUT, OUT]) * 5)
    pi.body.receive(as_block(b"LIST:DATA", plan))
    pi.tell("*CLS")
    before = int(pi.ask("DIAG:LOOP?").split(",")[3])
    pi.tell("INIT")
    pi.run(12)
    pi.ms += 9 - 0.75
    pi.run(1)  # the step due at 20 ms is done 1.25 ms later
    assert int(pi.ask("DIAG:LOOP?").split(",")[3]) == before + 8
    assert pi.ask("DIAG:LAT?").split(",")[0] == "1250"


def test_a_player_that_ended_by_a_fault_is_told_and_not_counted(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))

    def ended(body):
        body.trouble = RuntimeError("planted")

    monkeypatch.setattr(PiBody, "_play", ended)
    factory = WiredFactory(revision="c03111")
    with pytest.raises(BoardFault, match="planted"):
        reached_here(SHEET, factory=factory, wait=lambda _seconds: None)
    factory.reset()


def test_pins_that_another_program_has_are_said():
    class Taken(WiredFactory):
        def spi(self, **_arguments):
            raise gpiozero.PinInvalidState("in use")

    factory = Taken(revision="c03111")
    with pytest.raises(LinkTrouble, match="other programs"):
        reached_here(SHEET, factory=factory, wait=lambda _seconds: None)
    factory.reset()


def test_nothing_read_is_no_rate():
    assert Pace().reached().rate_hz == 0.0


def test_the_sheet_carries_the_rate_and_that_it_was_not_measured():
    sampling = read_board((ROOT / "hardware/boards/pi.toml").read_text("utf-8"))["sampling"]
    assert sampling["reached_hz"] < 1000
    assert "not measured on a real Raspberry Pi" in sampling["reached_from"]


def test_off_a_pi_the_reason_is_said():
    with pytest.raises(LinkTrouble) as told:
        open_pi(SHEET)
    assert told.value.remarks[0].code in ("no_pins", "not_a_pi")
    assert "\n" not in told.value.remarks[0].text


def test_the_table_of_pins_is_the_circuits(pi):
    assert {PINS[f"WATCH{n}"] for n in range(1, 7)} == {12, 13, 19, 26, 2, 3}
    assert len(WATCH) == 6


# -- self-test -------------------------------------------------------------------------------------


def test_a_good_board_passes_its_self_test_and_says_what_was_looked_at(pi):
    pi.run(60)
    assert pi.ask("*TST?") == "0"
    assert "relay" in pi.ask("DIAG:TEST?")


@pytest.mark.parametrize(
    ("break_it", "word"),
    [
        (lambda b: setattr(b.pots[1], "powered", False), "potentiometer chip 2"),
        (lambda b: setattr(b, "vpot_v", 4.9), "potentiometer supply 4900 mV"),
        (lambda b: setattr(b, "vbus_v", 4.2), "USB supply"),
        (lambda b: setattr(type(b), "energised", property(lambda self: True)), "relay"),
    ],
)
def test_the_self_test_names_what_is_broken(pi, break_it, word, monkeypatch):
    monkeypatch.setattr(type(pi.bench), "energised", type(pi.bench).energised)
    pi.run(60)
    break_it(pi.bench)
    assert pi.ask("*TST?") == "1"
    assert word in pi.ask("DIAG:TEST?")


def test_the_self_test_leaves_the_network_as_it_was_and_waits_for_the_ohmmeter(pi):
    waited = []
    pi.hands.wait = waited.append
    pi.run(60)
    pi.tell(f"SOUR:CODE 33,44,{OUT},{OUT},0,65535,0,-1")
    pi.run(20)
    pi.ask("*TST?")
    assert (pi.bench.pots[0].register[0], pi.bench.pots[0].register[1]) == (33, 44)
    assert pi.bench.pots[0].register[4] == 0x1FF
    assert len(waited) == 2


def test_nothing_is_tried_while_standing_in(pi):
    stand_in(pi)
    before = list(pi.bench.pots[0].words)
    assert pi.ask("*TST?") == "1"
    assert pi.bench.pots[0].words == before
