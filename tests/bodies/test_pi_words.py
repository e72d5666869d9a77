"""The Raspberry Pi sends what the Pico sends: the same words in the same order, the same levels."""

import json
import runpy
import sys

import pytest

from bodies.wired_pi import OUT, ROOT, Pi, as_block
from firmware.bench import PUMP_LETS_GO_MS, READ, WRITE
from firmware.test_interpreters import TWIN, run
from locum_board import chips, steps

SCRIPT = ROOT / "tests/firmware/scripts/twin_wipers.py"


class Twin(Pi):
    """Plays the Pico's scenario; keeps every word in its order, and every change of a level."""

    def __init__(self, folder, signals):
        super().__init__(folder)
        self.changes = [[int(self.pin(name).state) for name in signals]]
        # The first words left while the hands were made; from here on each is kept with its chip.
        self.words = [(n + 1, word) for n, pot in enumerate(self.bench.pots) for word in pot.words]
        for number, pot in enumerate(self.bench.pots, 1):
            pot.words = _Told(self.words, number)
        self.heart = 0
        toggle = self.hands._heart.toggle

        def beat():
            self.heart += 1
            toggle()

        self.hands._heart.toggle = beat
        for place, name in enumerate(signals):
            self._watch(place, self.pin(name))

    def _watch(self, place, pin):
        plain = pin._change_state

        def changed(value):
            done = plain(value)
            levels = [*self.changes[-1][:place], int(value), *self.changes[-1][place + 1 :]]
            if levels != self.changes[-1]:
                self.changes.append(levels)
            return done

        pin._change_state = changed

    def block(self, header, data):
        self.body.receive(as_block(header.encode(), data))

    def beats(self):
        return self.heart


class _Told:
    """A list that adds to one that is shared."""

    def __init__(self, words, number):
        self._words, self._number = words, number

    def append(self, word):
        self._words.append((self._number, word))


@pytest.fixture(scope="module")
def pico(tmp_path_factory):
    """What the Pico's own drivers sent in the same scenario."""
    lines = run(sys.executable, SCRIPT, TWIN, cwd=tmp_path_factory.mktemp("pico")).splitlines()
    words = [(int(line.split()[1]), int(line.split()[2], 16)) for line in lines if "word" in line]
    levels = [json.loads(line.partition(" ")[2]) for line in lines if line.startswith("levels")]
    return words, levels, int(lines[0].rpartition(" ")[2])


@pytest.fixture
def twin(tmp_path):
    return played(tmp_path)


def played(folder):
    """A Pi that has been through the scenario and is closed again."""
    script = runpy.run_path(str(SCRIPT))
    board = Twin(folder / "kept", script["SIGNALS"])
    board.hands.wait = lambda _seconds: None
    script["scenario"](board)
    words, changes = list(board.words), list(board.changes)
    board.body.close()
    board.factory.reset()
    board.words, board.changes = words, changes
    return board


def test_the_scenario_has_every_kind_of_word(pico):
    """Codes of all four wipers, terminals cut and joined on both chips, and reads of each."""
    kinds = {(chip, word >> 12, word >> 10 & 3) for chip, word in pico[0]}
    assert kinds == {
        (chip, address, command)
        for chip in (1, 2)
        for address in (0, 1, chips.TCON)
        for command in (WRITE, READ)
    }
    cut = {(chip, word & 0xFF) for chip, word in pico[0] if word >> 8 == 0x41}
    both, first, second, none = 0xFF, 0xCF, 0xFC, 0xCC
    assert cut >= {(1, state) for state in (both, first, second, none)} | {(2, none)}
    assert {state for chip, state in cut if chip == 2} & {both, first, second}


def test_the_same_words_in_the_same_order_over_both_chips(pico, twin):
    assert len(pico[0]) > 100
    assert twin.words == pico[0]


def test_the_same_levels_in_the_same_order(pico, twin):
    """Coil, line switches, hot branches, ohmmeter's ranges and lamp."""
    since_rest = pico[1][pico[1].index(twin.changes[0]) :]
    assert len(since_rest) > 40
    assert twin.changes == since_rest


def test_the_pump_is_beaten_as_often_and_often_enough(pico, twin, capsys):
    assert pico[2] == 100
    assert f"in 100 ms {pico[2]}" in capsys.readouterr().out or twin.heart >= pico[2]
    assert PUMP_LETS_GO_MS > 1000 / 100


def test_a_plan_of_the_first_scenario_sends_the_golden_words(tmp_path):
    """The sequence of tests/firmware/scripts/twin.py, against the words golden for the Pico."""
    pi = Pi(tmp_path / "kept")
    pi.run(30)
    pi.tell(f"SOUR:CODE 100,200,{OUT},{OUT},1,65535,0,-1")
    pi.tell("OUTP ON")
    pi.run(40)
    rows = b"".join(
        steps.pack_step(
            20, [n | 1 << 9, 2 * n, OUT | 3, 40 + n | 3 << 9], steps.NODE_UNKNOWN, n & 3
        )
        for n in range(20)
    )
    plan = steps.plan_block(rows + steps.pack_repeat(3, 2), plan_id=7)
    pi.body.receive(as_block(b"LIST:DATA", plan))
    pi.tell("INIT")
    pi.run(300)
    for text, wait_ms in (("SOUR:CONT OPEN,30", 60), ("SOUR:CONT SHOR,30", 70), ("OUTP OFF", 30)):
        pi.tell(text)
        pi.run(wait_ms)
    golden = (ROOT / "tests/firmware/golden_words.txt").read_text().splitlines()
    for select, pot in zip(("20", "21"), pi.bench.pots, strict=True):
        wanted = [line.split()[2] for line in golden if line.startswith(f"word {select} ")]
        assert len(wanted) > 20
        assert [f"{word:04x}" for word in pot.words] == wanted
    assert pi.pin("RELAY").state == 0
    pi.body.close()
    pi.factory.reset()
