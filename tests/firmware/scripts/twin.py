"""One afternoon of a fake Pico: prints every word on the bus but the conversions, and every edge.

Run by CPython and by MicroPython; both must print the same, and the same as golden_words.txt.
"""

import fakeboard
import machine

from locum_board import steps

OUT = steps.OUT
pico = fakeboard.FakeBoard("store")
pico.run(30)
said = []


def tell(text):
    said.append((text, pico.tell(text)))


def block(rows):
    data = steps.plan_block(rows, plan_id=7)
    length = str(len(data))
    pico.port.coming = b"LIST:DATA #%d" % len(length) + length.encode() + data + b"\n"
    pico.loop.turn()


tell(f"SOUR:CODE 100,200,{OUT},{OUT},1,65535,0,-1")
tell("OUTP ON")
pico.run(40)
rows = b"".join(
    [
        steps.pack_step(20, [n | 1 << 9, 2 * n, OUT | 3, 40 + n | 3 << 9], 0xFFFF, n & 3)
        for n in range(20)
    ]
)
block(rows + steps.pack_repeat(3, 2))
tell("INIT")
pico.run(300)
tell("SOUR:CONT OPEN,30")
pico.run(60)
tell("SOUR:CONT SHOR,30")
pico.run(
    70
)  # ends in the middle of a step, so that a millisecond more or less sends the same words
tell("OUTP OFF")
pico.run(30)
for text, answer in said:
    print(text, answer)
for select, word in machine.WORLD.bus_words:
    if select != 17:
        print("word", select, f"{word[0]:02x}{word[1]:02x}")
for us, gpio, level in machine.WORLD.edges:
    if gpio not in (3, 17, 20, 21):
        print("edge", us // 1000, gpio, level)
