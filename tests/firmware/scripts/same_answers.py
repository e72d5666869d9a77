"""The machine-code functions against the engine's own, on edges and on thrown numbers. Prints "same".

Run by MicroPython's unix interpreter, firmware on its path.
"""

from array import array

from locum_board import chips, records, sampling, steps, ticks

own = (ticks.after, ticks.plus, ticks.scaled, steps.u16, steps.u30, records.put, sampling.gather)
after, plus, scaled, u16, u30, put, gather = own
lay, take_words = chips.lay, steps.take_words

from drivers import quick, wire  # noqa: E402

state = 7


def below(most):
    global state
    state = (state * 1103515245 + 12345) & 0x7FFFFFFF
    return state % most


TICKS = [0, 1, 2, 999, (1 << 29) - 1, 1 << 29, (1 << 29) + 1, (1 << 30) - 2, (1 << 30) - 1]
TICKS += [below(1 << 30) for _ in range(20)]
for a in TICKS:
    for b in TICKS:
        assert quick.after(a, b) == after(a, b), (a, b)
        assert quick.plus(a, b & 0x0FFFFFFF) == plus(a, b & 0x0FFFFFFF), (a, b)
for _ in range(3000):
    values = below(1 << 29), below(1 << 16), 1 + below((1 << 28) - 1)
    if below(2):
        values = values[0], values[1], 1 + below(70000)
    assert quick.scaled(*values) == scaled(*values), values

data = bytearray([below(256) for _ in range(64)])
for at in range(60):
    assert quick.u16(data, at) == u16(data, at)
    assert quick.u30(data, at) == u30(data, at)
one, two = bytearray(64), bytearray(64)
for at in range(0, 64, 8):
    words = [below(65536) for _ in range(4)]
    put(one, at, *words)
    quick.put(two, at, *words)
assert one == two
one, two = array("i", [0] * 7), array("i", [0] * 7)
for turn in range(500):
    if turn % 10 == 0:
        one[0] = two[0] = 0
    node, ohm = below(4096), below(4096)
    gather(one, node, ohm)
    quick.gather(two, node, ohm)
    assert one == two, (list(one), list(two))
rows = array("H", [0] * 7), array("H", [0] * 7)
for at in range(50):
    take_words(data, at, rows[0])
    quick.take_words(data, at, rows[1])
    assert rows[0] == rows[1]
for count in (2, 4):
    mine = chips.Wipers(None, None, count)
    fast = chips.Wipers(None, None, count)
    for _ in range(600):
        for at in range(4):
            out = chips.OUT if below(3) == 0 else 0
            mine.want[at] = fast.want[at] = out | below(4) << 9 | (below(2) and 7 or below(257))
        laid = lay(mine.words, mine.want, mine.place, mine.codes, mine.tcon, count)
        again = quick.lay(fast.words, fast.want, fast.place, fast.codes, fast.tcon, count)
        assert laid == again, (laid, again)
        assert list(mine.words)[: laid & 255] == list(fast.words)[: laid & 255]
        for name in ("place", "codes", "tcon"):
            assert getattr(mine, name) == getattr(fast, name)
# The registers as plain memory: the data register reads back what was written last.
bus, pins = array("I", [0] * 4), array("I", [0] * 8)
wire.send_all(bus, pins, array("i", [1 << 20, 1 << 21]), array("i", [0x10142, 0x41CF]), 0, 1)
assert (bus[2], pins[6], pins[5]) == (0x42, 1 << 21, 1 << 21)
wire.send_all(bus, pins, array("i", [1 << 20, 1 << 21]), array("i", [0x10142, 0x41CF]), 0, 2)
assert (bus[2], pins[6], pins[5]) == (0xCF, 1 << 20, 1 << 20)
assert wire.count(bus, pins, 1 << 17, 6, 64) == 0
assert (pins[6], pins[5]) == (1 << 17, 1 << 17)
quick.install()
assert ticks.after is quick.after
assert sampling.gather is quick.gather
assert chips.lay is quick.lay
print("same")
