"""The same run under both interpreters: every answer and every move of a pin, as text.

Commands, blocks, garbage and bytes of 0x80 and above come from a generator of our own, so that
both interpreters see the same; the clock wraps on the way. The test compares the output byte for byte.
"""

import sys

sys.path.insert(0, sys.argv[1])

from binascii import hexlify

from locum_board import ladder, steps
from locum_board.engine import Engine
from locum_board.hands import Hands

SEED = int(sys.argv[2])


class Dice:
    """A small linear congruential generator; 15 bits a throw."""

    def __init__(self, seed):
        self.state = seed

    def below(self, most):
        self.state = (self.state * 1103515245 + 12345) & 0x7FFFFFFF
        return (self.state >> 16) % most


dice = Dice(SEED)
now = (1 << 30) - 20000


class TracedHands(Hands):
    model = "trace"
    abilities = 1023
    line_count = 6

    def __init__(self):
        self.node = 0
        self.ohm = 0
        self.energised = 0
        self.code = 62
        self.opened = 0
        self.noise = Dice(7)

    def told(self, name, *values):
        print(now, name, *values)

    def sample(self):
        ohm = 36 + 40 * self.code if self.energised else 2500
        node = 3103 if self.opened == 1 else 0 if self.opened == 2 else 3103 * ohm // (ohm + 1000)
        self.node = node + self.noise.below(4)
        self.ohm = 700 + self.noise.below(3) if self.noise.below(900) else 4095

    def lines(self):
        return 1 << self.noise.below(6) if self.noise.below(40) == 0 else 5

    def button(self):
        return 1 if self.noise.below(3000) == 0 else 0

    def aux(self, channel):
        return 50000 + self.noise.below(900) - 60000 * (channel == 1)

    def relay(self, on):
        if on != self.energised:
            self.told("relay", on)
        self.energised = on

    def wipers(self, w0, w1, w2, w3, hot):
        self.code = w0 & 0x1FF
        self.told("wipers", w0, w1, w2, w3, hot)

    def contact(self, kind):
        self.opened = kind
        self.told("contact", kind)

    def range(self, number):
        self.told("range", number)


def block(payload):
    size = str(len(payload)).encode()
    return b"#" + str(len(size)).encode() + size + payload


def rungs():
    out = b""
    for code in range(1, 257):
        ohm = 36 + 40 * code
        words = (code, steps.OUT, steps.OUT, steps.OUT)
        out += ladder.pack_rung(ohm * 1000, 160, words, 10000 * ohm // (ohm + 1000), 5 << 5)
    return ladder.ladder_block(out)


def plan():
    rows = b""
    for _ in range(2 + dice.below(20)):
        code = 50 + dice.below(30)
        ohm = 36 + 40 * code
        flags = steps.step_flags(contact=dice.below(8) == 0, tolerance=4 + dice.below(3))
        words = (code, steps.OUT, steps.OUT, steps.OUT)
        rows += steps.pack_step(1 + dice.below(400), words, 10000 * ohm // (ohm + 1000), flags)
    rows += steps.pack_repeat(2, 1 + dice.below(4))
    return steps.plan_block(rows, flags=dice.below(4), standing_s=1 + dice.below(60))


def garbage():
    return bytes([dice.below(256) for _ in range(dice.below(70))])


COMMANDS = (
    b"*IDN?", b"FETC?", b"FETC?", b"TRAC:DATA?", b"TRAC:DATA? 7", b"SYST:ERR?", b"SYST:ERR?;ERR?;COUN?",
    b"OUTP ON", b"OUTP ON", b"OUTP OFF", b"OUTP:RET", b"INIT", b"INIT", b"ABOR", b"FOLL ON", b"FOLL ON,5",
    b"CONT OPEN,50", b"CONT SHOR", b"CONT THR", b"RES 2516.4", b"RES 1.2E3 OHM", b"RES?", b"*RST",
    b"CODE 62,32768,32768,32768", b"CODE 70,32768,32768,32768,0,7400,4,2836000", b"CODE 1,2", b"*STB?",
    b"OUTP:PROT:CLE", b"DIAG:MEAS 9,0,0,0,0,2,16", b"DIAG:MEAS?", b"STAT:OPER?;:STAT:QUES?", b"*ESR?",
    b"SENS:RES:RANG 1,2", b"SENS:LINE:KIND 3,PWM", b"OUTP:STAN 7", b"*OPC?", b"TRAC:CLE", b"SENS:QUI 3,3",
    b"\xc3\xa4", b"#H12", b"LIST:DATA #15abcde", b"MEAS:VOLT?;RES?", b"DIAG:LOOP?", b"LIST:CRC?;NAME?",
)  # fmt: skip

hands = TracedHands()
engine = Engine(hands, now, 300)
engine.receive(b"LADD:DATA " + block(rungs()) + b"\n", now)
for _turn in range(260):
    kind = dice.below(12)
    if kind == 0:
        data = garbage() + b"\n"
    elif kind == 1:
        data = b"LIST:DATA " + block(plan()) + b"\n"
    elif kind == 2:
        data = b"LIST:DATA " + block(plan()[: dice.below(40)])
        data = data[: dice.below(60)] if dice.below(3) else data + b"\n"
    else:
        data = COMMANDS[dice.below(len(COMMANDS))] + (b"\r\n" if dice.below(9) == 0 else b"\n")
    answer = engine.receive(data, now)
    if answer:
        print(now, "answer", hexlify(answer).decode())
    for _ in range(dice.below(4000) if dice.below(12) == 0 else dice.below(300)):
        now = (now + 1) & 0x3FFFFFFF
        engine.advance(now)
        said = engine.poll(now)
        if said:
            print(now, "said", said)
print("end", engine.player.state, engine.player.cause, engine.ring.head, engine.ring.lost)
