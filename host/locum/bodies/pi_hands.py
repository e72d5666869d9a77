"""A Raspberry Pi's header as the engine's hands, by gpiozero's public interface."""

from __future__ import annotations

import binascii
import os
import struct
import time
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from gpiozero import InputDevice, OutputDevice

from locum.bodies.pi_pins import Bus, Level
from locum.bodies.pi_selftest import look
from locum.bodies.sheet_abilities import ability_bits
from locum_board import chips, scales
from locum_board import hands as bits
from locum_board.hands import Hands

RANGES = ("RANGE_1K5", "RANGE_12K", "RANGE_100K")
MOST_BOOT = (1 << 30) - 1


class PiHands(Hands):
    """Pins of the header by the signals of the board sheet's ``[pins.pi]``."""

    model = "pi"
    sampled = True

    def __init__(
        self,
        board_sheet: dict[str, Any],
        factory: Any,
        folder: Path,
        give_back: Callable[[], None] | None = None,
    ) -> None:
        """``folder`` keeps calibration and plan; ``give_back`` is called when all is closed."""
        self._held = ExitStack()
        """All that is open; closed in the end, or at once if one of them cannot be had."""
        if give_back is not None:
            self._held.callback(give_back)
        try:
            self._take(board_sheet["pins"]["pi"], factory)
            self._network.all_out()
            self._take_inputs(board_sheet, factory)
        except BaseException:
            self._held.close()
            raise
        self.abilities = ability_bits(board_sheet)
        self.serial = _serial_number()
        self.boot_id = int.from_bytes(os.urandom(4), "little") % MOST_BOOT + 1
        self._energised = False
        self._range_now = 3
        self._kept = folder
        self.node = self.ohm = self.fault = 0
        self.supply = 1
        self.wait: Callable[[float], None] = time.sleep
        """For the self-test, while the ohmmeter settles. [s]"""
        self.now_us: Callable[[], int] = lambda: 0
        self.beat_us = 0
        """Clock of the body, and when the millisecond of the beat now running began. [us]"""

    def _take(self, pins: dict[str, int], factory: Any) -> None:
        """The coil first, then what could load the line, then the bus."""

        def output(name: str, high: bool = False) -> OutputDevice:
            device = OutputDevice(pins[name], initial_value=high, pin_factory=factory)
            self._held.callback(device.close)
            return device

        self._relay = output("RELAY")
        self._heart = output("HEART")
        self._conn = output("CONN")
        self._short = output("SHORT")
        self._hot = (output("HOT1"), output("HOT2"))
        self._ranges = [output(name, high=True) for name in RANGES]
        self._led = output("LED")
        self._bus = Bus(factory, pins, self._held)
        self._network = chips.Wipers(self._bus.send, self._switch_hot, 4)

    def _take_inputs(self, board_sheet: dict[str, Any], factory: Any) -> None:
        pins: dict[str, int] = board_sheet["pins"]["pi"]

        def pulled_up(name: str) -> InputDevice:
            device = InputDevice(pins[name], pull_up=True, pin_factory=factory)
            self._held.callback(device.close)
            return device

        def level(name: str) -> Level:
            found = Level(pins[name], factory)
            self._held.callback(found.close)
            return found

        self._button, self._trip = pulled_up("BUTTON"), pulled_up("TRIP")
        self._rest = level("REST")
        self.line_count = int(board_sheet.get("abilities", {}).get("watch_lines", 6))
        self._lines = [level(f"WATCH{n + 1}") for n in range(self.line_count)]

    # -- the player's group --------------------------------------------------------------------

    def sample(self) -> None:
        self.node = self._bus.count(scales.ADC_NODE)
        if self._range_now < 3:
            self.ohm = self._bus.count(scales.ADC_OHM)

    def late_us(self) -> int:
        return self.now_us() - self.beat_us

    def lines(self) -> int:
        return sum(1 << n for n, line in enumerate(self._lines) if line.high)

    def button(self) -> int:
        return self._button.value

    def line_tripped(self) -> int:
        return self._trip.value

    def rest_switch(self) -> int:
        return 1 - self._rest.high

    def aux(self, channel: int) -> int:
        if channel == bits.AUX_THROTTLE:
            return scales.halved_0v1mv(self._bus.count(scales.ADC_THROTTLE))
        if channel == bits.AUX_RETURN_OFFSET:
            return scales.return_offset_0v1mv(self._bus.count(scales.ADC_RETURN))
        if channel == bits.AUX_BOARD_C:
            return scales.milli_c(self._bus.count(scales.ADC_BOARD_C))
        rail = scales.ADC_VBUS if channel == bits.AUX_VBUS else scales.ADC_VPOT
        return scales.supply_0v1mv(self._bus.count(rail))

    def relay(self, on: int) -> None:
        self.fault = 0
        if on and not self._answering():
            self.fault = 1
            on = 0
        self._energised = bool(on)
        self._relay.value = self._energised
        if not on:
            self._heart.off()

    def beat(self) -> None:
        if self._energised:
            self._heart.toggle()

    def wipers(self, w0: int, w1: int, w2: int, w3: int, hot: int) -> None:
        self._network.set(w0, w1, w2, w3, hot)

    def _switch_hot(self, branches: int) -> None:
        self._hot[0].value = branches & 1
        self._hot[1].value = branches >> 1 & 1

    def contact(self, kind: int) -> None:
        if kind != 2:
            self._short.off()
        if kind != 0:
            self._conn.off()
        if kind == 0:
            self._conn.on()
        elif kind == 2:
            self._short.on()

    def range(self, number: int) -> None:
        self._range_now = number
        for place, switch in enumerate(self._ranges):
            switch.value = place != number

    def led(self, on: int) -> None:
        self._led.value = bool(on)

    def _answering(self) -> bool:
        return all(
            self._bus.read(chip, chips.TCON) == self._network.expected(chip, chips.TCON)
            for chip in range(len(self._network.tcon))
        )

    # -- talk's group --------------------------------------------------------------------------

    def keep_cause(self, cause: int) -> None:
        self._write("cause", bytes([cause & 0xFF]))

    def kept_cause(self) -> int:
        return (self.recall("cause") or b"\0")[0]

    def store(self, name: str, data: bytes) -> bool:
        return not self._energised and self._write(name, bytes(data))

    def _write(self, name: str, data: bytes) -> bool:
        """Beside the old one, then in its place: one of the two is always whole."""
        try:
            self._kept.mkdir(parents=True, exist_ok=True)
            beside = self._kept / f"{name}.new"
            beside.write_bytes(data + struct.pack("<I", binascii.crc32(data)))
            beside.replace(self._kept / name)
            return True
        except OSError:
            return False

    def recall(self, name: str) -> bytes | None:
        try:
            data = (self._kept / name).read_bytes()
        except OSError:
            return None
        body, crc = data[:-4], data[-4:]
        return body if crc == struct.pack("<I", binascii.crc32(body)) else None

    def self_test(self) -> tuple[bool, str]:
        """Only while the coil is not driven; the network is put back as it was."""
        if self._energised:
            return False, "standing in: end it first"
        range_before, hot, words = self._range_now, self._network.hot, list(self._network.want)
        try:
            return look(self._bus, self._network, self.range, self.wait)
        finally:
            self._network.set(words[0], words[1], words[2], words[3], hot)
            self.range(range_before)

    def rest_now(self) -> None:
        """Everything at rest, whatever the engine thinks."""
        self._energised = False
        for device in (self._relay, self._heart, self._short, self._conn, self._led, *self._hot):
            device.off()
        for switch in self._ranges:
            switch.on()

    def close(self) -> None:
        """Everything at rest, then every pin an input again; twice is harmless."""
        if not self._relay.closed:
            self.rest_now()
        self._held.close()


def _serial_number() -> str:
    try:
        text = Path("/sys/firmware/devicetree/base/serial-number").read_text("ascii")
    except (OSError, UnicodeDecodeError):
        return "pi"
    return "".join(c for c in text if c.isalnum()) or "pi"
