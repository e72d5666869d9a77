"""An engine on the bench: hands that are a few numbers, and a clock that is moved by hand."""

from __future__ import annotations

import pytest

from locum_board import ladder, states, steps
from locum_board.engine import Engine
from locum_board.hands import Hands

PULL_UP_OHM = 1000.0
OPEN_V = 5.0


class BenchHands(Hands):
    """A board whose one wiper is 40 ohm a code, in parallel with nothing, on a 5 V, 1 kohm module."""

    model = "bench"
    serial = "T1"
    abilities = 1023
    line_count = 6

    def __init__(self):
        self.real_ohm = 2500.0
        self.open_v = OPEN_V
        self.words = (steps.OUT,) * 4
        self.hot = 0
        self.energised = 0
        self.contact_kind = 0
        self.range_number = 3
        self.levels = 0
        self.pressed = 0
        self.switch_open = 0
        self.comparator = 0
        self.beats = 0
        self.log = []
        self.kept = {}
        self.vbus = 50000
        self.cause = 0

    def ohm_of(self, words):
        return 36.0 + 40.0 * (words[0] & 0x1FF) if not words[0] & steps.OUT else 1e9

    def sample(self):
        load = self.ohm_of(self.words) if self.energised else self.real_ohm
        load = {0: load, 1: 1e9, 2: 0.5}[self.contact_kind]
        node_v = self.open_v * load / (load + PULL_UP_OHM)
        self.node = min(4095, int(node_v / 6.6 * 4096 + 0.5))
        other = self.real_ohm if self.energised else self.ohm_of(self.words)
        self.ohm = 0
        if self.range_number < 3:
            reference = self.range_milliohm[self.range_number] / 1000
            self.ohm = min(4095, int(4096 * other / (other + reference) + 0.5))

    def lines(self):
        return self.levels

    def button(self):
        return self.pressed

    def line_tripped(self):
        return self.comparator

    def rest_switch(self):
        return self.switch_open

    def aux(self, channel):
        return (12000, 15, self.vbus, 53000, 25000)[channel]

    def relay(self, on):
        if on != self.energised:
            self.log.append(("relay", on))
        self.energised = on

    def beat(self):
        self.beats += 1

    def wipers(self, w0, w1, w2, w3, hot):
        self.words = (w0, w1, w2, w3)
        self.hot = hot
        self.log.append(("wipers", w0 & 0x1FF))

    def contact(self, kind):
        if kind != self.contact_kind:
            self.log.append(("contact", kind))
        self.contact_kind = kind

    def range(self, number):
        self.range_number = number

    def keep_cause(self, cause):
        self.cause = cause

    def store(self, name, data):
        self.kept[name] = data
        return True

    def recall(self, name):
        return self.kept.get(name)


def node_half_mv(ohm):
    return round(OPEN_V * ohm / (ohm + PULL_UP_OHM) * 2000)


def bench_ladder(low=1, high=256):
    """Every code of the bench board; a rung of 40 ohm weighs 1000 units per 250 ohm."""
    rungs = b""
    for code in range(low, high + 1):
        ohm = 36 + 40 * code
        weight = 0 if code == low else 160
        words = (code, steps.OUT, steps.OUT, steps.OUT)
        rungs += ladder.pack_rung(ohm * 1000, weight, words, node_half_mv(ohm), 4 << 5)
    return ladder.ladder_block(rungs)


def timed_step(dt_ms, code, **flags):
    node = node_half_mv(36 + 40 * code)
    words = (code, steps.OUT, steps.OUT, steps.OUT)
    return steps.pack_step(dt_ms, words, node, steps.step_flags(**{"tolerance": 4, **flags}))


class Bench:
    """An engine, its hands, and time in milliseconds."""

    def __init__(self, start_ms=1000, settle=True, slots=6000):
        self.hands = BenchHands()
        self.now_ms = start_ms
        self.engine = Engine(self.hands, start_ms, slots)
        self.player = self.engine.player
        if settle:
            self.run(50)

    def run(self, milliseconds, keep_alive=True):
        """Let time pass; the host says hello every half second unless ``keep_alive`` is False."""
        for passed in range(milliseconds):
            if keep_alive and passed % 500 == 0:
                self.engine.receive(b"\n", self.now_ms)
            self.now_ms = (self.now_ms + 1) & 0x3FFFFFFF
            self.engine.advance(self.now_ms)
            self.engine.poll(self.now_ms)

    def ask(self, text):
        data = text if isinstance(text, bytes) else text.encode()
        return self.engine.receive(data + b"\n", self.now_ms).decode("latin-1").rstrip("\n")

    def tell(self, text):
        """Send a command; the board's verdict."""
        self.ask(text)
        return self.ask("SYST:ERR?")

    def block(self, header, payload):
        size = str(len(payload)).encode()
        return self.tell(header.encode() + b" #" + str(len(size)).encode() + size + payload)

    @property
    def state(self):
        return states.STATE_NAMES[self.player.state]

    @property
    def cause(self):
        return states.CAUSE_NAMES[self.player.cause]

    def good(self, text):
        verdict = self.tell(text)
        assert verdict == '0,"No error"', (text, verdict)

    def stand_in(self, code=62, ladder_too=True):
        """Ready, then holding, settled."""
        if ladder_too:
            assert self.block("LADD:DATA", bench_ladder()) == '0,"No error"'
        self.good(f"CODE {code},32768,32768,32768,0,{node_half_mv(36 + 40 * code)},4")
        self.good("OUTP ON")
        self.run(30)

    def bring(self, state):
        """A fresh bench in this state."""
        if state == "rest":
            return self
        if state == "ready":
            self.good("CODE 62,32768,32768,32768")
            return self
        self.stand_in()
        if state == "running":
            plan = steps.plan_block(timed_step(1000, 62) * 3 + steps.pack_repeat(3, steps.ENDLESS))
            assert self.block("LIST:DATA", plan) == '0,"No error"'
            self.good("INIT")
        elif state == "returning":
            self.run(1500)
            self.hands.real_ohm = 9000.0
            self.run(6000)
            self.good("OUTP:RET")
        elif state == "tripped":
            self.player.trip(states.CAUSE_LINE)
        assert self.state == state
        return self


@pytest.fixture
def bench():
    return Bench()


@pytest.fixture
def new_bench():
    return Bench


@pytest.fixture
def tools():
    """The helpers above, for tests that make their own plans."""

    class Tools:
        step = staticmethod(timed_step)
        ladder = staticmethod(bench_ladder)
        node = staticmethod(node_half_mv)
        hands = BenchHands

    return Tools
