"""The player on the Pico's hands with the heap locked: whatever allocates raises. Prints "quiet".

Run by MicroPython's unix interpreter, firmware and ``quiet`` on its path.
"""

import gc

import micropython

from drivers import board, loop
from drivers.pico import PicoHands
from locum_board import steps
from locum_board.engine import Engine


def play(engine, now, milliseconds):
    """Advance with the heap locked, as the timer interrupt does."""
    micropython.heap_lock()
    try:
        for _ in range(milliseconds):
            now += 1
            engine.advance(now)
    finally:
        micropython.heap_unlock()
    return now


def between_beats(doing, now_ms):
    """An order, also with the heap locked; on this script's clock, which no timer drives."""
    micropython.heap_lock()
    try:
        doing(now_ms)
    finally:
        micropython.heap_unlock()


hands = PicoHands(board.Description, "/tmp/no-such-folder/store")
hands.between_beats = between_beats
engine = Engine(hands, 1000, 600)
loop.Loop(hands, engine, None)
now = play(engine, 1000, 1500)


def post(text):
    """An order by talk."""
    answer = engine.receive(text + b";:SYST:ERR?\n", now)
    assert answer.startswith(b"0,"), (text, answer)


row = steps.pack_step(5, [100 | 2 << 9, 200, 50, 30 | 1 << 9], 0xFFFF, 1)
other = steps.pack_step(5, [90, 256, 60, 31], 0xFFFF, 2)
block = steps.plan_block((row + other) * 300)
post(b"SENS:RES:RANG 1,1")
post(b"LIST:DATA #" + str(len(str(len(block)))).encode() + str(len(block)).encode() + block)
post(b"INIT")
now = play(engine, now, 900)
post(b"SYST:COMM:TIM 5")
now = play(engine, now, 500)
assert engine.player.relay_on, engine.player.cause
post(b"OUTP OFF")
now = play(engine, now, 300)
gc.collect()
print("quiet")
