"""For the real MicroPython with a small heap: everything on board at once, and it still talks."""

import binascii
import gc
import struct
import sys

sys.path.insert(0, sys.argv[1])
gc.collect()
before = gc.mem_alloc()
from locum_board.room import Room, load  # noqa: E402

room = Room()
Engine = load()
from locum_board import ladder, steps  # noqa: E402
from locum_board.hands import Hands  # noqa: E402


class AllHands(Hands):
    abilities = 1023
    line_count = 6
    turn = 0

    def sample(self):
        self.turn = (self.turn + 1) % 4001
        self.node = 2000 + self.turn // 4
        self.ohm = 700


hands = AllHands()
engine = Engine(hands, 0, room=room)
gc.collect()
total = gc.mem_alloc() - before


def feed(header, head, row, count):
    """Send a block of ``count`` rows in small pieces, as USB brings it; nothing whole is held."""
    length = len(head) + count * len(row(0)) + 4
    engine.receive(header + b" #5%05d" % length + head, 0)
    crc = binascii.crc32(head)
    for number in range(count):
        data = row(number)
        crc = binascii.crc32(data, crc)
        engine.receive(data, 0)
    engine.receive(struct.pack("<I", crc & 0xFFFFFFFF) + b"\n", 0)
    answer = engine.receive(b"SYST:ERR?\n", 0)
    assert answer.startswith(b"0,"), answer


def rung(number):
    return ladder.pack_rung(1000 * (66 + number), 100, (number % 257, 0, 0, 0))


def step(number):
    return steps.pack_step(100, (number % 257, steps.OUT, steps.OUT, steps.OUT))


def plan_head(part):
    return struct.pack(
        steps.HEADER, b"LP", 1, 4 if part else 0, 2000, part, 5, 2000 * part, 4000, 900, 0
    )


feed(b"LADD:DATA", struct.pack(ladder.HEADER, b"LL", 1, 0, 512, 0, 0), rung, 512)
feed(b"LIST:DATA", plan_head(0), step, 2000)
feed(b"LIST:DATA:APP", plan_head(1), step, 2000)
assert engine.receive(b"LIST:POIN?;:LADD:POIN?\n", 0) == b"4000,4000;512\n"
now = 0
while engine.ring.waiting() < 5900:
    now += 1
    engine.advance(now)
gc.collect()
free = gc.mem_free()
answer = engine.receive(b"TRAC:DATA?\n", now)
assert len(answer) > 900
del answer
answer = engine.receive(b"FETC?\n", now)
assert answer
assert len(room.plans[0]) == steps.BLOCK_BYTES
assert len(room.ladder) == ladder.BLOCK_BYTES
print(f"total={total} free={free}")
