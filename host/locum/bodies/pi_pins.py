"""The header's SPI bus and inputs, by gpiozero's public interface.

All three chip selects are plain outputs, because a third chip has no select of its own: the bus
is opened as device 1 with its select parked on an unconnected pin
(``dtoverlay=spi0-2cs,cs1_pin=14``), and gpiozero is told that the pin is free for others.
A bus made of software would be far too slow and goes unnoticed: it is an error here. Inputs are plain
ones, read at every beat: those that tell of edges would call Python for each edge of a modulated line.
"""

from __future__ import annotations

import contextlib
import gc
import threading
import warnings
from collections.abc import Iterator
from contextlib import ExitStack
from typing import Any

import gpiozero
from gpiozero import InputDevice, OutputDevice

from locum.errors import LinkTrouble, Remark
from locum_board import chips

BUS_HZ = 1_000_000
SPARE_SELECT = 7
"""The pin gpiozero takes for device 1's select; here it is a chip select of our own."""


_RESERVING = threading.RLock()


@contextlib.contextmanager
def _uncollected() -> Iterator[None]:
    """No garbage is collected meanwhile, in one thread at a time."""
    with _RESERVING:
        collecting = gc.isenabled()
        gc.disable()
        try:
            yield
        finally:
            if collecting:
                gc.enable()


class Undisturbed:
    """Put before a factory's class: its pins are reserved and released without a collection between.

    gpiozero (2.0.1) holds a lock that cannot be taken twice while it reserves or releases a pin, and a
    bus releases its pins once more when it is collected: a collection that comes just then waits
    for ever, with no exception and no signal that could end it.
    """

    def reserve_pins(self, requester: Any, *names: Any) -> None:
        with _uncollected():
            super().reserve_pins(requester, *names)  # pyright: ignore[reportAttributeAccessIssue]

    def release_pins(self, reserver: Any, *names: Any) -> None:
        with _uncollected():
            super().release_pins(reserver, *names)  # pyright: ignore[reportAttributeAccessIssue]


class Bus:
    """The SPI bus; ``factory`` is gpiozero's, so that tests can put a mock in.

    What is opened is closed by ``held``.
    """

    def __init__(self, factory: Any, pins: dict[str, int], held: ExitStack) -> None:
        def select(gpio: int) -> OutputDevice:
            device = OutputDevice(gpio, initial_value=True, pin_factory=factory)
            held.callback(device.close)
            return device

        self._selects = [
            select(pins[name])
            for name in ("CS_POT10K", "CS_POT100K", "CS_ADC")
            if name != "CS_POT10K" or pins[name] != SPARE_SELECT
        ]
        with warnings.catch_warnings():
            warnings.simplefilter("error", gpiozero.SPISoftwareFallback)
            try:
                self._spi = factory.spi(port=0, device=1)
            except (gpiozero.SPISoftwareFallback, ImportError) as trouble:
                raise no_hardware_bus(str(trouble)) from trouble
        held.callback(self._spi.close)
        self._spi.clock_mode = 0
        with contextlib.suppress(gpiozero.SPIFixedRate):  # only a mock bus has no rate
            self._spi.rate = BUS_HZ
        if pins["CS_POT10K"] == SPARE_SELECT:
            factory.release_pins(self._spi, SPARE_SELECT)
            self._selects.insert(0, select(SPARE_SELECT))
        self._adc_select = self._selects[-1]
        self.back = [0, 0]

    def send(self, chip: int, first: int, second: int) -> None:
        """Two bytes to a potentiometer chip."""
        select = self._selects[chip]
        select.off()
        self.back = self._spi.transfer([first, second])
        select.on()

    def read(self, chip: int, register: int) -> int:
        """A register of a potentiometer chip, -1 if nobody understood."""
        self.send(chip, register << 4 | chips.READ | 3, 0xFF)
        return chips.read_value(self.back[0], self.back[1])

    def count(self, channel: int) -> int:
        """One conversion, 0..4095."""
        first, second = chips.adc_bytes(channel)
        self._adc_select.off()
        back = self._spi.transfer([first, second, 0])
        self._adc_select.on()
        return (back[1] & 15) << 8 | back[2]


class Level:
    """An input that says what is on the pin, whether or not a resistor is soldered to it.

    BCM 2 and 3 have pull-ups that cannot be switched off; gpiozero then wants to be told so, and
    takes low for active.
    """

    def __init__(self, pin: int, factory: Any) -> None:
        try:
            self._device = InputDevice(
                pin,
                pull_up=None,  # pyright: ignore[reportArgumentType]  (documented: floating)
                active_state=True,
                pin_factory=factory,
            )
            self._upside_down = False
        except gpiozero.PinFixedPull:
            self._device = InputDevice(pin, pull_up=True, pin_factory=factory)
            self._upside_down = True

    @property
    def high(self) -> int:
        return int(self._device.value) ^ self._upside_down

    def close(self) -> None:
        self._device.close()


def no_hardware_bus(found: str) -> LinkTrouble:
    """The SPI bus is switched off, or only software could make one."""
    return LinkTrouble(
        Remark(
            "no_hardware_spi",
            "pi",
            "the hardware SPI bus",
            found,
            "put dtparam=spi=on and dtoverlay=spi0-2cs,cs1_pin=14 into /boot/firmware/config.txt, "
            "then restart",
        )
    )
