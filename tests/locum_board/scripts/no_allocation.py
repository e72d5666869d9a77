"""For the real MicroPython: the player with the heap locked, through everything it can do.

An allocation under ``heap_lock`` raises MemoryError. On the Pico the player runs in a hard timer
interrupt, where that is the rule. Prints what was gone through; the test reads it.
"""

import sys

sys.path.insert(0, sys.argv[1])

import micropython

from locum_board import ladder, records, states, steps
from locum_board.engine import Engine
from locum_board.hands import Hands


class PlainHands(Hands):
    abilities = 1023
    line_count = 6

    def __init__(self):
        self.level = 0
        self.energised = 0
        self.real = 700
        self.own = 2217
        self.free = 2217
        self.tick = 0
        self.node = 0
        self.ohm = 0

    def sample(self):
        self.tick = (self.tick + 1) & 0xFFFF
        self.node = (self.own if self.energised else self.free) + (self.tick & 31)
        self.ohm = self.real + (self.tick & 1)

    def lines(self):
        return (self.tick >> 5) & 63 if self.level else 5

    def button(self):
        return 1 if self.tick % 500 < 40 else 0

    def aux(self, channel):
        return 12000 + self.tick % 4000 if channel < 2 else -25000 if channel == 4 else 50000

    def relay(self, on):
        self.energised = on


def rungs():
    out = b""
    for code in range(1, 200):
        ohm = 36 + 40 * code
        node = 10000 * ohm // (ohm + 1000)
        words = (code, steps.OUT, steps.OUT, steps.OUT)
        out += ladder.pack_rung(ohm * 1000, 160, words, node, 0)
    return ladder.ladder_block(out)


def block(payload):
    size = str(len(payload)).encode()
    return b"#" + str(len(size)).encode() + size + payload


hands = PlainHands()
engine = Engine(hands, 100)
player = engine.player
now = 100


def tell(data):
    engine.receive(data + b"\n", now)
    answer = engine.receive(b"SYST:ERR?\n", now)
    if not answer.startswith(b"0,"):
        print("refused", data[:20], answer)


def run(milliseconds, alive=True):
    """Only the player, with the heap locked."""
    global now
    micropython.heap_lock()
    try:
        for _ in range(milliseconds):
            now = (now + 1) & 0x3FFFFFFF
            if alive:
                player.heard_ms = now
            player.advance(now)
    finally:
        micropython.heap_unlock()


def order(code, *args):
    """An order taken within the locked beat, as from an interrupt."""
    for index in range(len(args)):
        player.order_args[index] = args[index]
    player.order = code
    micropython.heap_lock()
    try:
        player.take_order(now)
    finally:
        micropython.heap_unlock()
    run(1)
    return player.reply


from locum_board import mailbox as m  # noqa: E402

tell(b"LADD:DATA " + block(rungs()))
tell(b"SENS:LINE:KIND 2,PWM")
tell(b"SENS:RES:RANG 1,1")
step = steps.pack_step
word = steps.OUT
rows = step(5, (62, word, word, word), 7157, steps.step_flags(tolerance=4))
rows += step(7, (63, word, word, word), 7157, steps.step_flags(contact=1))
rows += steps.pack_repeat(2, 20)
rows += step(3000, (0, 0, 0, 0), flags=steps.step_flags(follow=True))
run(400)
hands.level = 1
run(2000)
print("measure", order(m.ORDER_MEASURE, 50, word, word, word, 0, 1, 64))
run(300)
print("measured", player.measure_on > 0, player.measuring)
print("set", order(m.ORDER_SET, 62, word, word, word, 0, 7157, 4, 2516000))
print("on", order(m.ORDER_ON))
run(3000)
tell(b"LIST:DATA " + block(steps.plan_block(rows, flags=0)))
print("init", order(m.ORDER_INIT))
run(4000)
print(states.STATE_NAMES[player.state], player.steps_done)
print("follow", order(m.ORDER_FOLLOW, 0))
run(6000)
hands.real = 760
run(3000)
print("contact", order(m.ORDER_CONTACT, 1, 30))
hands.real = 4090
run(600)
hands.real = 900
run(8000)
order(m.ORDER_ABORT)
hands.real = 1500
run(6000)
print("return", order(m.ORDER_RETURN))
run(1000)
print("abort", order(m.ORDER_ABORT), states.STATE_NAMES[player.state])
run(200)
run(25000, alive=False)
print(states.STATE_NAMES[player.state], states.CAUSE_NAMES[player.cause])
print("set", order(m.ORDER_SET, 62, word, word, word, 0, 7157, 4, -1), "on", order(m.ORDER_ON))
hands.own = 100
run(3000)
print(states.STATE_NAMES[player.state], states.CAUSE_NAMES[player.cause])
print("clear", order(m.ORDER_CLEAR), "refused", order(m.ORDER_INIT))
hands.own = 4095
print("set", order(m.ORDER_RUNG, 60), "on", order(m.ORDER_ON))
run(100)
print(states.STATE_NAMES[player.state], states.CAUSE_NAMES[player.cause])
now = 0x3FFFFFFF - 500
player.bucket_start = now
run(1200)
run(60000)
hands.level = 0
run(20)
print("lost", player.ring.lost > 0, "waiting", player.ring.waiting() > 5000)
print("kinds", records.NOTE)
