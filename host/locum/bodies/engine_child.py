"""The engine in a process of its own, worked by lines; runs under MicroPython and CPython.

Started by ``remote_engine.py``: ``micropython engine_child.py FIRMWARE_FOLDER``. The first line is
the configuration (an argument that long MicroPython cannot take), each further one a call of the
engine's; ``?`` answers with everything the world's side must know.
Nothing is simulated here: pins are attributes that the other side reads.

    r NOW HEX     receive            e TICK LINE LEVEL   edge        x CHANNEL VALUE TICK  aux
    p NOW         poll               m TICK              mark        d TICK                duties
    a NOW         advance            M ON OFF            measured    s NAME VALUE          an input
    b START NOW SPAN NMIN NSUM NMAX OMIN OSUM OMAX COUNT             bucket
"""

import binascii
import json
import sys

sys.path.insert(0, sys.argv[1])

from locum_board.engine import Engine
from locum_board.hands import Hands


class PipeHands(Hands):
    """Outputs as attributes; inputs set by ``s`` lines."""

    sampled = False
    block_slots = 500

    def __init__(self, configuration):
        for name in configuration:
            value = configuration[name]
            setattr(self, name, tuple(value) if isinstance(value, list) else value)
        self.words = (32768, 32768, 32768, 32768)
        self.hot = 0
        self.energised = 0
        self.contact_kind = 0
        self.range_number = 3
        self.switch_open = 0
        self.comparator = 0
        self.kept = {}

    def relay(self, on):
        self.energised = on

    def wipers(self, w0, w1, w2, w3, hot):
        self.words = (w0, w1, w2, w3)
        self.hot = hot

    def contact(self, kind):
        self.contact_kind = kind

    def range(self, number):
        self.range_number = number

    def rest_switch(self):
        return self.switch_open

    def line_tripped(self):
        return self.comparator

    def store(self, name, data):
        self.kept[name] = data
        return True

    def recall(self, name):
        return self.kept.get(name)

    def self_test(self):
        return True, "virtual board: nothing to read back"


class Child:
    """Does the lines."""

    def __init__(self, configuration):
        start_ms = configuration.pop("start_ms")
        slots = configuration.pop("slots")
        self.hands = PipeHands(configuration)
        self.engine = Engine(self.hands, start_ms, slots)
        self.player = self.engine.player
        self.player.lines_known = 1
        self.answer = b""
        self.now_ms = start_ms

    def do(self, line):
        op, _, rest = line.partition(" ")
        player = self.player
        if op == "r":
            now, _, data = rest.partition(" ")
            self.now_ms = int(now)
            self.answer += self.engine.receive(binascii.unhexlify(data), self.now_ms)
            return
        if op == "s":
            name, _, value = rest.partition(" ")
            setattr(self.hands, name, int(value))
            return
        numbers = [int(field) for field in rest.split()]
        if op == "a":
            self.now_ms = numbers[0]
            player.advance(self.now_ms)
        elif op == "p":
            self.answer += self.engine.poll(numbers[0])
        elif op == "b":
            player.bucket_start = numbers[0]
            player.now = numbers[1]
            player.bucket(*numbers[2:])
            player.bucket_start = numbers[1]
        elif op == "e":
            player.edge(*numbers)
        elif op == "m":
            player.mark(*numbers)
        elif op == "x":
            player.aux(*numbers)
        elif op == "d":
            player.duties(*numbers)
        elif op == "M":
            player.measured(*numbers)

    def state(self):
        """One line of numbers, then the answer in hex."""
        player = self.player
        hands = self.hands
        numbers = (
            player.due_in(self.now_ms),
            player.moved,
            player.bucket_start,
            player.quiet_node,
            player.quiet_ohm,
            1 if any(player.kinds) else 0,
            player.duty_due,
            player.edge_due,
            player.measuring,
            player.measure_range,
            player.measure_count,
            hands.energised,
            hands.contact_kind,
            hands.range_number,
            hands.hot,
        ) + tuple(hands.words)
        data = binascii.hexlify(self.answer).decode()
        self.answer = b""
        return " ".join([str(number) for number in numbers]) + " =" + data


def main():
    child = Child(json.loads(sys.stdin.readline()))
    while True:
        line = sys.stdin.readline()
        if not line:
            return
        line = line.strip()
        if line == "?":
            sys.stdout.write(child.state() + "\n")
            if hasattr(sys.stdout, "flush"):
                sys.stdout.flush()
        else:
            child.do(line)


main()
