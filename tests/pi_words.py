"""A Raspberry Pi made of gpiozero's mock pins, its chips answering whole words.

The bus is held for as long as the bits take at its rate; what the system's own calls cost is not in it.
"""

from __future__ import annotations

import time
import tomllib
from pathlib import Path

import gpiozero
from gpiozero.pins.mock import MockFactory

from firmware.bench import PIN, Bench
from locum.bodies.pi import PiBody
from locum.bodies.pi_hands import PiHands
from locum.bodies.pi_pins import BUS_HZ, Undisturbed

ROOT = Path(__file__).parents[1]
SHEET = tomllib.loads((ROOT / "hardware/boards/pi.toml").read_text("utf-8"))
PINS = SHEET["pins"]["pi"]


class WordBus(gpiozero.SPI):
    """Hands whole words to the chip whose select is low."""

    closed = False

    def __init__(self, factory: WordFactory) -> None:
        super().__init__(pin_factory=factory)
        self._factory = factory
        self._chips: list = []

    def wire(self, chips) -> None:
        """``chips``: (name of the select, chip) each; from now on they answer."""
        self._chips = [(self._factory.pin(PINS[name]), chip) for name, chip in chips]

    def transfer(self, data):
        until = time.perf_counter_ns() + 8 * len(data) * 1_000_000_000 // BUS_HZ
        answers = [chip.transfer(data) for select, chip in self._chips if not select.state]
        while time.perf_counter_ns() < until:
            pass
        return answers[0] if answers else [0] * len(data)

    def _set_clock_mode(self, value):
        assert value == 0

    def close(self):
        self._factory.release_all(self)
        self.closed = True


class WordFactory(Undisturbed, MockFactory):
    def spi(self, **arguments):
        assert arguments == {"port": 0, "device": 1}
        self.bus = WordBus(self)
        self.reserve_pins(self.bus, PINS["SCK"], PINS["MOSI"], PINS["MISO"], 7)
        return self.bus


class PotChip:
    """A potentiometer that notes when its words came."""

    def __init__(self, pot, written_s: list[float]) -> None:
        self.pot, self.written_s = pot, written_s

    def transfer(self, data):
        self.written_s.append(time.monotonic())
        self.pot.select(True)
        return [self.pot.exchange(byte) for byte in data]


class ConverterChip:
    def __init__(self, converter) -> None:
        self.converter = converter

    def transfer(self, data):
        channel = data[0] << 2 & 4 | data[1] >> 6
        count = max(0, min(4095, int(self.converter.count_of(channel))))
        self.converter.conversions += 1
        return [0xFF, count >> 8, count & 0xFF]


def playing_pi(folder: Path) -> tuple[PiBody, list[float], Bench]:
    """A body whose player runs in its thread, and the moments at which the first chip was written."""
    factory = WordFactory(revision="c03111")
    name_of = {gpio: name for name, gpio in PIN.items()}
    bench = Bench(
        lambda gpio: factory.pin(PINS[name_of[gpio]]).state, lambda: 1000 * time.monotonic()
    )
    factory.pin(PINS["REST"]).drive_high()
    hands = PiHands(SHEET, factory, folder)
    written_s: list[float] = []
    factory.bus.wire(
        [
            ("CS_POT10K", PotChip(bench.pots[0], written_s)),
            ("CS_POT100K", PotChip(bench.pots[1], [])),
            ("CS_ADC", ConverterChip(bench.converter)),
        ]
    )
    hands._network.all_out()  # the chips hear it now
    for number in range(1, 7):
        factory.pin(PINS[f"WATCH{number}"]).drive_low()
    toggle = hands._heart.toggle

    def beat() -> None:
        toggle()
        bench.heart_edge()

    hands._heart.toggle = beat
    return PiBody(hands), written_s, bench
