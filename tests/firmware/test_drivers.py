"""The drivers by what they put on the pins and on the bus."""

import math
import sys
import tomllib
from pathlib import Path

import pytest

from locum_board import chips, scales, steps
from locum_board import hands as bits

ROOT = Path(__file__).parents[2]
OUT = steps.OUT


def sheet(name):
    return tomllib.loads((ROOT / f"hardware/boards/{name}.toml").read_text("utf-8"))


# -- pins: one place, and the sheets agree ---------------------------------------------------------


@pytest.mark.parametrize("name", ["reference", "starter"])
def test_pins_are_those_of_the_board_sheet(fakes, name):
    from drivers import board

    description = board.BOARDS[name]
    mine = {signal: board.PINS[signal] for signal in description.signals}
    assert mine == sheet(name)["pins"]["pico"]


@pytest.mark.parametrize("name", ["reference", "starter"])
def test_abilities_and_limits_are_those_of_the_board_sheet(fakes, name):
    from drivers import board
    from locum.bodies.sheet_abilities import ability_bits

    description, told = board.BOARDS[name], sheet(name)
    assert description.abilities == ability_bits(told)
    assert description.wipers == len(told["network"]["wiper"])
    assert description.lines == told["abilities"]["watch_lines"]
    full_v = told["node"]["vref_v"] * told["node"]["divider"]
    assert description.node_full_0v1mv == round(full_v * 1e4)


def test_the_benchs_own_table_of_pins_is_the_circuits(fakes):
    import bench

    from drivers import board

    assert {board.PINS[name] for name in bench.PIN} == set(bench.PIN.values())
    assert tuple(board.PINS[f"WATCH{n}"] for n in range(1, 7)) == bench.WATCH


def test_an_unknown_board_file_is_the_reference_board(fakes, tmp_path):
    from drivers import board

    path = tmp_path / "board.json"
    assert board.describe(str(path)).id == "reference"
    for text in ("{", '{"id": "sofa"}', "[]"):
        path.write_text(text)
        assert board.describe(str(path)).id == "reference"
    path.write_text('{"id": "starter"}')
    assert board.describe(str(path)).id == "starter"


# -- potentiometers --------------------------------------------------------------------------------


class Heard:
    """What a chip select would have let through: (chip, word), and the hot branches."""

    def __init__(self, count=4):
        self.told = []
        self.wipers = chips.Wipers(self.send, self.hot, count)

    def send(self, chip, first, second):
        self.told.append((chip, first << 8 | second))

    def hot(self, branches):
        self.told.append(("hot", branches))

    def set(self, *words, hot=0):
        self.told.clear()
        self.wipers.set(*words, hot)
        return self.told


def test_golden_words_of_a_first_setting():
    heard = Heard()
    heard.wipers.all_out()
    assert heard.told == [(0, 0x41CC), (1, 0x41CC), ("hot", 0)]
    assert heard.set(256, 1, OUT, 0x80) == [
        (0, 0x0100),  # wiper 0 to 256
        (0, 0x41CF),  # and only then its terminals
        (0, 0x1001),  # wiper 1 to 1
        (0, 0x41FF),
        (1, 0x1080),  # wiper 1 of the second chip to 128
        (1, 0x41FC),
    ]


def test_the_shutdown_bits_are_never_cleared():
    heard = Heard()
    heard.wipers.all_out()
    for word in (OUT, 5, OUT | 5, 256):
        heard.set(word, OUT, word, OUT, hot=3)
        for chip, sent in heard.told:
            if chip != "hot" and sent >> 12 == 4:
                assert sent & 0x88 == 0x88


def test_wipers_move_by_rank_with_the_branches_in_the_middle():
    heard = Heard()
    heard.wipers.all_out()
    heard.set(1, 1, 1, 1)
    told = heard.set(20 | 3 << 9, 21 | 2 << 9, 22 | 1 << 9, 23, hot=2)
    assert told == [(1, 0x1017), (1, 0x0016), ("hot", 2), (0, 0x1015), (0, 0x0014)]


def test_words_that_change_nothing_are_not_sent():
    heard = Heard()
    heard.wipers.all_out()
    heard.set(7, 8, OUT, OUT, hot=1)
    assert heard.set(7, 8, OUT, OUT, hot=1) == []


def test_a_wiper_that_goes_out_keeps_its_code():
    heard = Heard()
    heard.wipers.all_out()
    heard.set(7, OUT, OUT, OUT)
    assert heard.set(OUT, OUT, OUT, OUT) == [(0, 0x41CC)]
    assert heard.set(7, OUT, OUT, OUT) == [(0, 0x41CF)]


def test_a_board_with_two_wipers_speaks_to_one_chip_only():
    heard = Heard(2)
    heard.wipers.all_out()
    heard.set(1, 2, 3, 4)
    assert {chip for chip, _ in heard.told} == {0}


@pytest.mark.parametrize(("first", "second", "value"), [(0xFE, 0x80, 0x80), (0xFF, 0, 0x100)])
def test_read_back_with_the_error_bit(first, second, value):
    assert chips.read_value(first, second) == value
    assert chips.read_value(first & ~2, second) == -1
    assert chips.read_value(0, 0) == -1


def test_a_chip_that_lost_its_registers_is_not_connected(pico):
    pico.run(60)
    pico.tell(f"SOUR:CODE 100,100,{OUT},{OUT},0,65535,0,-1")
    pico.bench.pots[1].power_up()  # all terminals joined again, codes at half scale
    pico.tell("OUTP ON")
    pico.run(40)
    assert pico.level("RELAY") == 0
    assert not pico.bench.energised


# -- converter and slow inputs ---------------------------------------------------------------------


@pytest.mark.parametrize("channel", range(8))
def test_a_conversion_asks_for_its_channel(fakes, channel):
    import bench

    converter = bench.Converter(lambda n: 100 * n + 7)
    first, second = chips.adc_bytes(channel)
    converter.select(True)
    back = [converter.exchange(byte) for byte in (first, second, 0)]
    assert back[1] & 0x10 == 0, "the null bit"
    assert (back[1] & 15) << 8 | back[2] == 100 * channel + 7


def test_node_and_ohmmeter_are_read_each_millisecond(pico):
    pico.run(60)
    before = pico.bench.converter.conversions
    pico.tell("SENS:RES:RANG 1,1")
    pico.run(100)
    assert pico.bench.converter.conversions - before >= 150
    node = int(pico.ask("FETC?").split(",")[5])
    assert node == pytest.approx(pico.bench.node_v * 1e4, abs=20)


def test_the_thermistors_table_is_its_formula():
    for count in range(scales.ROWS[-1][0], scales.ROWS[0][0], 7):
        ohm = 10000 * count / (4096 - count)
        celsius = 1 / (1 / 298.15 + math.log(ohm / 10000) / scales.BETA_K) - 273.15
        assert scales.milli_c(count) / 1000 == pytest.approx(celsius, abs=0.7)
    assert scales.milli_c(4095) == scales.ROWS[0][1]
    assert scales.milli_c(0) == scales.ROWS[-1][1]


@pytest.mark.parametrize("volts", [-1.5, 0.0, 0.25, 2.0])
def test_the_return_offset_reads_on_both_sides_of_zero(pico, volts):
    pico.bench.return_offset_v = volts
    found = pico.hands.aux(bits.AUX_RETURN_OFFSET)
    assert found == pytest.approx(volts * 1e4, abs=30)


def test_supply_and_throttle_are_told_in_tenths_of_millivolts(pico):
    pico.bench.vbus_v, pico.bench.throttle_v = 4.91, 3.21
    assert pico.hands.aux(bits.AUX_VBUS) == pytest.approx(49100, abs=17)
    assert pico.hands.aux(bits.AUX_THROTTLE) == pytest.approx(32100, abs=17)
    pico.bench.vbus_v = 0.0
    assert pico.hands.aux(bits.AUX_VBUS) == bits.AUX_NONE


# -- contacts, ranges, inputs ----------------------------------------------------------------------


def test_contacts_break_before_they_make(pico):
    pico.run(5)
    pico.world.edges.clear()
    pico.hands.contact(2)
    assert [(g, v) for _, g, v in pico.world.edges] == [(4, 0), (5, 1)]
    pico.world.edges.clear()
    pico.hands.contact(0)
    assert [(g, v) for _, g, v in pico.world.edges] == [(5, 0), (4, 1)]
    pico.hands.contact(1)
    assert (pico.level("CONN"), pico.level("SHORT")) == (0, 0)


@pytest.mark.parametrize("number", range(4))
def test_one_range_at_most_is_on(pico, number):
    pico.hands.range(number)
    levels = [pico.level(name) for name in ("RANGE_1K5", "RANGE_12K", "RANGE_100K")]
    assert levels == [0 if place == number else 1 for place in range(3)]


def test_watch_lines_have_their_places(pico):
    for place, gpio in enumerate((10, 11, 12, 13, 0, 27)):
        pico.world.inputs = {**pico.world.inputs, 10: 0, 11: 0, 12: 0, 13: 0, 0: 0, 27: 0, gpio: 1}
        assert pico.hands.lines() == 1 << place


def test_the_coil_is_toggled_by_the_program_while_it_is_held(pico):
    pico.run(60)
    pico.tell(f"SOUR:CODE 100,100,{OUT},{OUT},0,65535,0,-1")
    pico.tell("OUTP ON")
    pico.run(40)
    pico.world.edges.clear()
    pico.run(100)
    beats = [v for _, g, v in pico.world.edges if g == 3]
    assert len(beats) >= 90
    assert all(a != b for a, b in zip(beats, beats[1:], strict=False))


def test_the_starter_board_opens_by_its_wipers(fakes, tmp_path):
    from drivers import board

    pico = fakes.FakeBoard(str(tmp_path / "s"), board.Starter)
    pico.run(60)
    assert {gpio for gpio, _ in pico.world.bus_words} == {20}
    pico.hands.wipers(100, 100, OUT, OUT, 0)
    pico.hands.contact(1)
    assert pico.bench.pots[0].register[4] == 0x1CC
    pico.hands.contact(0)
    assert pico.bench.pots[0].register[4] == 0x1FF


def test_what_the_starter_board_has_not_is_refused(fakes, tmp_path):
    from drivers import board

    pico = fakes.FakeBoard(str(tmp_path / "s"), board.Starter)
    pico.run(60)
    assert pico.tell("SENS:RES:RANG 1,1").startswith("-241")
    assert "starter" in pico.ask("*IDN?")


# -- orders, between two beats ---------------------------------------------------------------------


def test_an_order_holds_the_beat_back_and_the_beat_comes_at_its_end(pico):
    pico.run(60)
    order_ends, beats = [], []
    advance = pico.loop._advance
    pico.loop._advance = lambda now: (beats.append(now), advance(now))

    def slow_order(now):
        came = len(beats)
        sys.modules["machine"].pass_us(1500)
        assert len(beats) == came, "a beat came into the middle of the order"
        order_ends.append(pico.world.us)

    pico.hands.between_beats(slow_order, 0)
    assert len(beats) == 1
    assert pico.world.us - order_ends[0] < 50, (
        "the beat that was held back must not wait any longer"
    )


def test_an_order_that_raises_gives_the_beat_back(pico):
    pico.run(60)
    with pytest.raises(ZeroDivisionError):
        pico.hands.between_beats(lambda now: 1 // 0, 0)
    alive = pico.engine.player.alive
    pico.run(10)
    assert pico.engine.player.alive >= alive + 9


def test_an_order_is_obeyed_in_the_time_it_is_then(pico):
    pico.run(60)
    seen = []
    pico.hands.between_beats(seen.append, 0)
    assert seen == [pico.world.us // 1000]


# -- self-test -------------------------------------------------------------------------------------


def test_a_good_board_passes_its_self_test_and_says_what_was_looked_at(pico):
    pico.run(60)
    assert pico.ask("*TST?") == "0"
    assert "relay" in pico.ask("DIAG:TEST?")


@pytest.mark.parametrize(
    ("break_it", "word"),
    [
        (lambda b: setattr(b.pots[1], "powered", False), "potentiometer chip 2"),
        (lambda b: setattr(b.converter, "present", False), "converter"),
        (lambda b: setattr(b, "vpot_v", 4.9), "potentiometer supply"),
        (lambda b: setattr(b, "vbus_v", 4.2), "USB supply"),
        (lambda b: setattr(type(b), "energised", property(lambda self: True)), "relay"),
    ],
)
def test_the_self_test_names_what_is_broken(pico, break_it, word, monkeypatch):
    monkeypatch.setattr(type(pico.bench), "energised", type(pico.bench).energised)
    pico.run(60)
    break_it(pico.bench)
    assert pico.ask("*TST?") != "0"
    assert word in pico.ask("DIAG:TEST?")


def test_the_self_test_leaves_the_network_as_it_was(pico):
    pico.run(60)
    pico.tell(f"SOUR:CODE 33,44,{OUT},{OUT},0,65535,0,-1")
    pico.run(20)
    pico.ask("*TST?")
    assert (pico.bench.pots[0].register[0], pico.bench.pots[0].register[1]) == (33, 44)
    assert pico.bench.pots[0].register[4] == 0x1FF


# -- store -----------------------------------------------------------------------------------------


@pytest.fixture
def store(fakes, tmp_path):
    from drivers.store import Store

    return Store(str(tmp_path / "flash"))


def test_the_newest_copy_comes_back(store):
    for turn in range(5):
        assert store.save("cal", b"turn %d" % turn)
        assert store.load("cal") == b"turn %d" % turn
    assert store.load("plan") is None


@pytest.mark.parametrize("cut", [0, 3, 15, 16, 20, 1000])
def test_power_lost_while_writing_leaves_the_old_copy(store, tmp_path, cut):
    store.save("plan", b"first" * 300)
    store.save("plan", b"second" * 300)
    torn = max((tmp_path / "flash").iterdir(), key=lambda p: p.read_bytes()[4])
    torn.write_bytes(torn.read_bytes()[:cut])
    assert store.load("plan") == b"first" * 300
    assert store.save("plan", b"third")
    assert store.load("plan") == b"third"


def test_one_flipped_bit_is_seen(store, tmp_path):
    store.save("cal", bytes(200))
    path = next((tmp_path / "flash").iterdir())
    data = bytearray(path.read_bytes())
    data[100] ^= 1
    path.write_bytes(data)
    assert store.load("cal") is None


def test_nothing_is_written_while_standing_in(pico):
    pico.run(60)
    pico.tell(f"SOUR:CODE 100,100,{OUT},{OUT},0,65535,0,-1")
    pico.tell("OUTP ON")
    pico.run(40)
    assert not pico.hands.store("cal", b"x")
    pico.tell("OUTP OFF")
    pico.run(40)
    assert pico.hands.store("cal", b"x")
    assert pico.hands.recall("cal") == b"x"
