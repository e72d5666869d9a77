"""Every way out ends at rest: exception, hang, watchdog, brown-out, reset, maintenance, the switch."""

import sys

import pytest

from locum_board import states, steps

OUT = steps.OUT


def stand_in(pico, code=100):
    pico.run(60)
    assert pico.tell(f"SOUR:CODE {code},{code},{OUT},{OUT},0,65535,0,-1").startswith("0,")
    assert pico.tell("OUTP ON").startswith("0,")
    pico.run(60)
    assert pico.bench.energised
    return pico


def at_rest(pico):
    return not pico.bench.energised and pico.level("RELAY") == 0 and pico.level("LED") == 0


def cause(pico):
    return pico.ask("OUTP:PROT:CAUS?").split(",")[1].strip('"')


def test_after_power_up_the_coil_is_never_driven(pico):
    pico.run(500)
    relay = [edge for edge in pico.world.edges if edge[1] in (2, 3)]
    assert [level for _, _, level in relay] == [0] * len(relay)
    assert len(relay) >= 2


def test_the_coil_is_the_first_pin_and_all_out_the_first_words(pico):
    assert [gpio for _, gpio, _ in pico.world.edges[:2]] == [2, 3]
    assert pico.world.bus_words[:2] == [(20, b"\x41\xcc"), (21, b"\x41\xcc")]


def test_selects_are_high_before_the_first_word(pico):
    first_low = next(i for i, e in enumerate(pico.world.edges) if e[1] in (17, 20, 21) and not e[2])
    before = {gpio: level for _, gpio, level in pico.world.edges[:first_low]}
    assert [before[gpio] for gpio in (17, 20, 21)] == [1, 1, 1]


def test_the_module_gets_the_network_that_was_set(pico):
    stand_in(pico, 128)
    assert pico.bench.network_ohm == pytest.approx(36 + (75 + 5000) / 2, rel=1e-4)
    assert pico.level("LED") == 1


def test_an_exception_in_the_player_trips_and_talk_goes_on(pico):
    stand_in(pico)

    def broken(_now):
        raise ValueError("planted")

    good, pico.loop._advance = pico.loop._advance, broken
    sys.modules["machine"].pass_us(2000)
    assert at_rest(pico)
    pico.loop._advance = good
    pico.run(10)
    assert cause(pico) == "fault"
    assert pico.ask("*IDN?").startswith("locum,")


def test_after_trouble_the_board_is_fit_to_stand_in_again(pico):
    stand_in(pico)
    pico.loop._troubled()
    pico.run(50)
    pico.tell("OUTP:PROT:CLE")
    assert pico.ask("*TST?") == "0"
    stand_in(pico, 128)
    assert pico.bench.network_ohm == pytest.approx(36 + (75 + 5000) / 2, rel=1e-4)


def test_an_exception_in_talk_trips_and_talk_goes_on(pico):
    stand_in(pico)
    good = pico.loop._receive
    pico.loop._receive = None
    pico.port.coming = b"*IDN?\n"
    try:
        pico.loop.turn()
    except TypeError:
        pico.loop._troubled()
    pico.loop._receive = good
    assert at_rest(pico)
    pico.run(10)
    assert cause(pico) == "fault"


def test_run_keeps_the_loop_alive_over_trouble(pico):
    stand_in(pico)
    turns = []

    def turn():
        turns.append(1)
        if len(turns) == 1:
            raise RuntimeError("planted")
        pico.hands.leave = True

    pico.loop.turn = turn
    with pytest.raises(sys.modules["machine"].Reset):  # the watchdog runs: the prompt by a reset
        pico.loop.run()
    assert len(turns) == 2
    assert pico.engine.player.state == states.TRIPPED
    assert at_rest(pico)


def test_trouble_again_and_again_resets_the_board(pico, fakes):
    stand_in(pico)
    pico.loop._troubled()
    pico.loop._troubled()
    with pytest.raises(sys.modules["machine"].Reset):
        pico.loop._troubled()
    assert at_rest(pico)
    assert pico.hands.kept_cause() == states.CAUSE_FAULT


def test_a_hung_program_lets_go_by_its_pump(pico):
    stand_in(pico)
    pico.world.timers.clear()
    pico.world.us += 250_000
    assert not pico.bench.energised


def test_the_watchdog_bites_when_the_player_stands_still(pico):
    stand_in(pico)
    assert pico.world.dog is not None
    assert 2000 < pico.world.dog.timeout <= 8388
    pico.loop._advance = lambda _now: None  # the interrupt comes, the player does not go on
    with pytest.raises(sys.modules["machine"].Reset):
        pico.run(10_000)


def test_the_watchdog_does_not_bite_a_player_that_goes_on(pico):
    stand_in(pico)
    for _ in range(6):
        pico.ask("*IDN?")
        pico.run(900)
    assert pico.bench.energised


def test_the_watchdog_is_not_started_at_rest(pico):
    pico.run(2000)
    assert pico.world.dog is None


def test_a_supply_that_sags_trips(pico):
    stand_in(pico)
    pico.bench.vbus_v = 4.1
    for _ in range(5):
        pico.ask("*IDN?")
        pico.run(500)
    assert at_rest(pico)
    assert cause(pico) == "supply"


def test_a_line_over_its_limit_trips_by_the_comparator(pico):
    stand_in(pico)
    pico.world.inputs[9] = 0
    pico.run(2)
    assert at_rest(pico)
    assert cause(pico) == "line"


def test_the_rest_switch_trips(pico):
    stand_in(pico)
    pico.world.inputs[28] = 0
    pico.run(2)
    assert at_rest(pico)
    assert cause(pico) == "switch"


@pytest.mark.parametrize("volts", [5.6, 8.0])
def test_a_line_that_is_too_high_is_never_connected(pico, volts):
    pico.bench.voc_v = volts
    pico.bench.sensor_ohm = 1e9
    pico.run(60)
    pico.tell(f"SOUR:CODE 100,100,{OUT},{OUT},0,65535,0,-1")
    assert not pico.tell("OUTP ON").startswith("0,")
    pico.run(60)
    assert [e for e in pico.world.edges if e[1] == 2 and e[2]] == []


def test_silence_of_the_host_ends_at_rest(pico):
    stand_in(pico)
    pico.run(30_000)
    assert at_rest(pico)
    assert cause(pico) == "silence"


def test_maintenance_is_refused_while_standing_in(pico):
    stand_in(pico)
    assert not pico.tell("DIAG:MAIN").startswith("0,")
    assert pico.bench.energised


def test_maintenance_at_rest_leaves_the_loop_at_rest(pico):
    pico.run(20)
    pico.port.coming = b"DIAG:MAIN\n"
    pico.loop.run()
    assert pico.world.timers == []
    assert at_rest(pico)
    assert [pico.level(name) for name in ("CONN", "SHORT", "HOT1", "HOT2")] == [0] * 4
    assert [pico.level(name) for name in ("RANGE_1K5", "RANGE_12K", "RANGE_100K")] == [1] * 3


def test_maintenance_after_the_watchdog_started_goes_by_a_reset(pico, fakes):
    from drivers import start

    stand_in(pico)
    pico.tell("OUTP OFF")
    pico.run(50)
    pico.port.coming = b"DIAG:MAIN\n"
    with pytest.raises(sys.modules["machine"].Reset):
        pico.loop.run()
    assert start.wanted_at_prompt()
    assert not start.wanted_at_prompt(), "the note must be forgotten once it was obeyed"


def test_the_button_at_power_up_is_a_way_back(pico):
    from drivers import start

    pico.world.inputs[14] = 0
    assert start.wanted_at_prompt()
    assert start.prepare() is None


def test_a_crowded_heap_gets_a_shorter_record_not_a_dead_board(pico, monkeypatch):
    import gc

    from drivers import loop, start

    monkeypatch.setattr(gc, "threshold", lambda amount: None, raising=False)
    tried = []

    def crowded(room):
        tried.append(room.slots)
        if room.slots > 3000:
            raise MemoryError
        return room

    monkeypatch.setattr(loop, "make", crowded)
    assert start.prepare().slots == 3000
    assert tried == [6000, 5000, 4000, 3000]
    assert sys.modules["micropython"].interrupt_character == -1


def test_the_cause_survives_a_reset(pico):
    stand_in(pico)
    pico.world.inputs[28] = 0
    pico.run(5)
    pico.world.mem[0x40058008] = 2  # the program asked for the reset
    pico.world.timers.clear()
    pico.start()
    assert pico.ask("OUTP:PROT:CAUS?").split(",")[1].strip('"') == "switch"
