"""A Raspberry Pi on gpiozero's mock pins, chips listening to every bit on the bus."""

from __future__ import annotations

import tomllib
from pathlib import Path

import gpiozero
from gpiozero.pins.mock import MockFactory, MockSPIDevice

from firmware.bench import PIN, READ, Bench
from locum.bodies.pi import PiBody
from locum.bodies.pi_hands import PiHands
from locum.bodies.pi_pins import Undisturbed
from locum_board import steps

ROOT = Path(__file__).parents[2]
SHEET = tomllib.loads((ROOT / "hardware/boards/pi.toml").read_text("utf-8"))
PINS = SHEET["pins"]["pi"]
OUT = steps.OUT


class PotOnPins(MockSPIDevice):
    """A potentiometer chip that hears bits and answers bits."""

    def attach(self, pot):
        self.pot = pot
        return self

    def on_start(self):
        super().on_start()
        self.tx_buf = [1] * 6

    def on_bit(self):
        if self.rx_bit == 6:
            address, command = bits(self.rx_buf[:4]), bits(self.rx_buf[4:6])
            value = self.pot.register.get(address, 0) if command == READ else 0x1FF
            self.tx_buf = [1, *(value >> n & 1 for n in range(8, -1, -1))]
            if not self.pot.powered:
                self.tx_buf = [0] * 10
        if self.rx_bit == 16:
            self.pot.exchange(bits(self.rx_buf[:8]))
            self.pot.exchange(bits(self.rx_buf[8:]))


class ConverterOnPins(MockSPIDevice):
    def attach(self, converter):
        self.converter = converter
        return self

    def on_start(self):
        super().on_start()
        self.converter.select(True)
        self.tx_buf = [1]

    def on_bit(self):
        self.converter._bit(self.rx_buf[-1])
        self.tx_buf = [self.converter.out()]


def bits(row):
    value = 0
    for bit in row:
        value = value << 1 | bit
    return value


class WiredFactory(Undisturbed, MockFactory):
    """Mock pins with a hardware bus: one bit after another over the clock, data and answer pins."""

    def spi(self, **arguments):
        assert arguments == {"port": 0, "device": 1}
        bus = WiredBus(self)
        self.reserve_pins(bus, PINS["SCK"], PINS["MOSI"], PINS["MISO"], 7)
        return bus


class WiredBus(gpiozero.SPI):
    closed = False

    def __init__(self, factory):
        super().__init__(pin_factory=factory)
        self._clock, self._out, self._in = (factory.pin(PINS[n]) for n in ("SCK", "MOSI", "MISO"))
        self._clock.function = self._out.function = "output"

    def transfer(self, data):
        back = []
        for byte in data:
            value = 0
            for place in range(7, -1, -1):
                self._out.state = byte >> place & 1
                self._clock.state = 1
                value = value << 1 | self._in.state
                self._clock.state = 0
            back.append(value)
        return back

    def _set_clock_mode(self, value):
        assert value == 0

    def close(self):
        self.pin_factory.release_all(self)
        self.closed = True


class Pi:
    """A Pi, its bench, and a clock that only a test moves."""

    def __init__(self, folder):
        self.ms = 1000.0
        self.factory = WiredFactory(revision="c03111")
        name_of = {gpio: name for name, gpio in PIN.items()}

        def level(gpio):
            return self.pin(name_of[gpio]).state

        self.bench = Bench(level, lambda: self.ms)
        wires = (PINS["SCK"], PINS["MOSI"], PINS["MISO"])
        self.slaves = [
            PotOnPins(*wires, PINS[name], pin_factory=self.factory).attach(pot)
            for name, pot in zip(("CS_POT10K", "CS_POT100K"), self.bench.pots, strict=True)
        ]
        self.slaves.append(
            ConverterOnPins(*wires, PINS["CS_ADC"], pin_factory=self.factory).attach(
                self.bench.converter
            )
        )
        self.pin("REST").drive_high()
        self.hands = PiHands(SHEET, self.factory, folder)
        self.hands.wait = lambda _seconds: None
        for number in range(1, 7):
            self.pin(f"WATCH{number}").drive_low()
        toggle = self.hands._heart.toggle

        def beat():
            toggle()
            self.bench.heart_edge()

        self.hands._heart.toggle = beat
        self.body = PiBody(self.hands, now_us=lambda: int(1000 * self.ms), thread=False)

    def pin(self, name):
        return self.factory.pin(PINS[name])

    def run(self, milliseconds):
        for _ in range(milliseconds):
            self.ms += 1
            self.body.advance()

    def ask(self, text):
        return self.body.receive(text.encode() + b"\n").decode().strip()

    def tell(self, text):
        """Send a command; the oldest error. Orders wait for the player, here run by talk."""
        return self.ask(text + ";:SYST:ERR?")


def as_block(header, payload):
    return b"%s #%d%d" % (header, len(str(len(payload))), len(payload)) + payload + b"\n"
