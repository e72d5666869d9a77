"""The way a real Raspberry Pi goes: gpiozero's own lgpio factory, on a library lgpio that is ours."""

import gc
import sys
import threading

import pytest
from gpiozero.pins.pi import PiBoardInfo

from bodies.fake_lgpio import FakeLgpio
from firmware.bench import PIN, Bench
from locum.bodies import pi as pi_body
from locum.bodies.pi_pins import BUS_HZ
from locum.errors import LinkTrouble
from locum.jobs import connection as opening
from pi_words import PINS, SHEET

PI_4B = 0xC03111


@pytest.fixture
def lgpio(monkeypatch):
    """A header with a bench on it; nothing plays unless the test makes it."""
    made = FakeLgpio({})
    name_of = {gpio: name for name, gpio in PIN.items()}
    bench = Bench(lambda gpio: made.level.get(PINS[name_of[gpio]], 0), lambda: 0.0)
    made.chips = dict(
        zip(
            [PINS[name] for name in ("CS_POT10K", "CS_POT100K", "CS_ADC")],
            [*bench.pots, bench.converter],
            strict=True,
        )
    )
    made.bench = bench
    monkeypatch.setitem(sys.modules, "lgpio", made)
    monkeypatch.delitem(sys.modules, "gpiozero.pins.lgpio", raising=False)
    monkeypatch.setattr("gpiozero.pins.local.get_pi_revision", lambda: PI_4B)
    monkeypatch.setattr(pi_body.PiBody, "_play", lambda body: None)
    yield made
    sys.modules.pop("gpiozero.pins.lgpio", None)


def test_the_bus_is_the_hardware_one_at_its_rate_and_the_first_words_take_the_wipers_out(lgpio):
    body = pi_body.open_pi(SHEET)
    assert list(lgpio.open_buses.values()) == [(0, 1, BUS_HZ, 0)]
    assert [pot.words[0] for pot in lgpio.bench.pots] == [0x41CC, 0x41CC]
    assert body.receive(b"*IDN?\n").startswith(b"locum,pi,")
    assert body.receive(b"*TST?\n") == b"0\n"
    body.close()


def test_closing_gives_everything_back_so_that_it_can_be_opened_again(lgpio):
    for _ in range(2):
        link = opening.connect("pi", SHEET)
        assert link.identity.model == "pi"
        assert PINS["RELAY"] in lgpio.outputs
        link.close()
        assert not lgpio.outputs
        assert not lgpio.open_buses
        assert lgpio.open_chips == 0


def test_a_bus_that_is_switched_off_is_an_error_and_never_made_of_software(lgpio):
    lgpio.bus_off = True
    with pytest.raises(LinkTrouble) as told:
        pi_body.open_pi(SHEET)
    assert told.value.remarks[0].code == "no_hardware_spi"
    assert "dtparam=spi=on" in str(told.value)
    assert all(not pot.words for pot in lgpio.bench.pots)
    assert lgpio.open_chips == 0


@pytest.mark.parametrize("name", ["RELAY", "CS_ADC", "BUTTON"])
def test_a_pin_that_another_program_has_is_said_and_the_others_are_given_back(lgpio, name):
    lgpio.taken = {PINS[name]}
    with pytest.raises(LinkTrouble) as told:
        pi_body.open_pi(SHEET)
    assert "GPIO busy" in str(told.value)
    assert "End other programs that use the pins" in str(told.value)
    assert not lgpio.outputs
    assert lgpio.open_chips == 0


def test_a_collection_of_garbage_while_a_pin_is_taken_never_waits_for_itself(lgpio, monkeypatch):
    """A bus that was closed is collected at the worst moment: where gpiozero holds its lock."""
    plain, collected = PiBoardInfo.find_pin, []

    def collecting(board, name):
        if gc.isenabled():  # as the interpreter does by itself, now and then
            collected.append(gc.collect())
        yield from plain(board, name)

    gc.collect()
    left_over = [pi_body.open_pi(SHEET)]
    left_over[0].close()
    monkeypatch.setattr(PiBoardInfo, "find_pin", collecting)
    held = []

    def again():
        left_over.clear()
        held.append(pi_body.open_pi(SHEET))

    opening_again = threading.Thread(target=again, daemon=True)
    opening_again.start()
    opening_again.join(20.0)
    assert not opening_again.is_alive(), "the lock is held for ever"
    assert collected
    held[0].close()
