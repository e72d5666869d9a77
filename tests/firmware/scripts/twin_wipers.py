"""A fake Pico whose every wiper leaves and comes back: each word in its order, each change of a level.

The scenario itself is in ``scenario()``, which the Raspberry Pi's test plays as well; what is printed
here is what that must send. Run by CPython and by MicroPython.
"""

from locum_board import steps

OUT = steps.OUT
SIGNALS = ("RELAY", "CONN", "SHORT", "HOT1", "HOT2", "RANGE_1K5", "RANGE_12K", "RANGE_100K", "LED")


def plan():
    """Wipers out one by one and in again, ranks that cross, both hot branches, a short."""
    rows = []
    for out in range(16):
        words = [
            (17 * out + 60 * wiper) % 257 | (OUT if out >> wiper & 1 else 0) | (wiper ^ 3) << 9
            for wiper in range(4)
        ]
        rows.append(steps.pack_step(20, words, 0xFFFF, out & 3))
    rows.append(steps.pack_step(20, [256, 0, 256, 0], 0xFFFF, 2 << steps.CONTACT_SHIFT))
    rows.append(steps.pack_step(20, [1, 2, 3, 4]))
    return steps.plan_block(b"".join(rows), plan_id=8)


def scenario(board):
    """``board``: run(ms), tell(text), block(header, bytes), beats()."""
    board.run(30)
    board.tell("SENS:RES:RANG 2,0")
    board.tell("SOUR:CODE 300,0,0,0")  # refused, sends nothing
    board.tell(f"SOUR:CODE {OUT},{OUT},77,{OUT},2,65535,0,-1")
    board.tell("OUTP ON")
    board.run(40)
    before = board.beats()
    board.run(100)
    print("beats of the pump in 100 ms", board.beats() - before)
    board.block("LIST:DATA", plan())
    board.tell("INIT")
    board.run(400)
    board.tell("*RST")
    board.run(30)
    board.tell("*TST?")
    board.run(5)


def main():
    import fakeboard
    import machine
    from bench import PIN

    class Board(fakeboard.FakeBoard):
        heart = 0

        def _edge(self, gpio, level):
            if gpio == PIN["HEART"]:
                self.heart += 1
                self.bench.heart_edge()
            elif gpio in numbers:
                levels[numbers.index(gpio)] = level
                if changes[-1] != levels:
                    changes.append(list(levels))

        def block(self, header, data):
            length = str(len(data))
            text = f"{header} #{len(length)}{length}"
            self.port.coming = text.encode() + data + b"\n"
            self.loop.turn()

        def beats(self):
            return self.heart

    numbers = [PIN[name] for name in SIGNALS]
    levels = [0] * len(numbers)
    changes = [list(levels)]
    pico = Board("store")
    scenario(pico)
    for select, word in machine.WORLD.bus_words:
        if select != PIN["CS_ADC"]:
            print("word", select - PIN["CS_POT10K"] + 1, f"{word[0]:02x}{word[1]:02x}")
    for row in changes:
        print("levels", row)


if __name__ == "__main__":
    main()
