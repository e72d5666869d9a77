"""Joins the fake machine, the bench and the firmware's own modules; for both interpreters.

Import it before anything of ``drivers``: it puts the fakes where the firmware looks for them.
"""

import sys

import faketime
import machine

sys.modules["time"] = faketime
if sys.implementation.name != "micropython":
    import fakemicropython

    sys.modules["micropython"] = fakemicropython

import bench  # noqa: E402


class FakePort:
    """Talk's bytes, put in and taken out by a test."""

    def __init__(self):
        self.coming = b""
        self.went = b""

    def take(self):
        data = self.coming
        self.coming = b""
        return data

    def send(self, answer):
        self.went += answer

    def push(self):
        return False

    def wait(self, milliseconds):
        machine.pass_us(milliseconds * 1000)


class FakeBoard:
    """A fake Pico that has just been powered up, the bench on its pins."""

    def __init__(self, folder, kind=None):
        self.world = machine.fresh()
        self.world.us = 5000000
        self.bench = bench.Bench(self.world.level, lambda: self.world.us / 1000)
        self.world.chip_of = self.bench.chip
        self.world.on_edge = self._edge
        self.world.inputs[bench.PIN["REST"]] = 1
        self.world.inputs[bench.PIN["TRIP"]] = 1
        self.world.inputs[bench.PIN["BUTTON"]] = 1
        self.world.adc[bench.PIN["NODE2"]] = lambda: self.bench.count(1)
        self.folder = folder
        self.kind = kind
        self.start()

    def _edge(self, gpio, level):
        if gpio == bench.PIN["HEART"]:
            self.bench.heart_edge()

    def start(self):
        from drivers import board, loop
        from drivers.pico import PicoHands
        from locum_board.engine import Engine

        self.hands = PicoHands(self.kind or board.Description, self.folder)
        self.engine = Engine(self.hands, faketime.ticks_ms(), 600)
        self.port = FakePort()
        self.loop = loop.Loop(self.hands, self.engine, self.port)
        self.loop.start_timer()

    def level(self, name):
        return self.world.level(bench.PIN[name])

    def run(self, milliseconds):
        """Let loop and timer go on."""
        end = self.world.us + milliseconds * 1000
        while self.world.us < end:
            self.loop.turn()

    def ask(self, text):
        self.port.went = b""
        self.port.coming = text.encode() + b"\n"
        self.loop.turn()
        return self.port.went.decode().strip()

    def tell(self, text):
        return self.ask(text + ";:SYST:ERR?")
