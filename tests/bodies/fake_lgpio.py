"""The library lgpio as gpiozero calls it, with a bench instead of a header.

Only what gpiozero's factory uses, and the errors it may meet: a bus that is switched off, pins that
another program has. A potentiometer or converter answers where its select is low.
"""

from __future__ import annotations

from types import ModuleType

OUT_BIT = 2
CONSTANTS = {"SET_PULL_NONE": 128, "SET_PULL_UP": 32, "SET_PULL_DOWN": 64, "BOTH_EDGES": 3,
             "RISING_EDGE": 1, "FALLING_EDGE": 2}  # fmt: skip


class FakeLgpio(ModuleType):
    """``chips``: select's number -> chip with ``select`` and ``exchange``."""

    def __init__(self, chips):
        super().__init__("lgpio")
        self.__dict__.update(CONSTANTS)
        self.error = type("error", (Exception,), {})
        self.chips = chips
        self.level, self.outputs = {}, set()
        self.bus_off = False
        self.taken = set()  # another program's
        self.open_chips, self.open_buses = 0, {}
        self.handles = 0

    def gpiochip_open(self, chip):
        self.open_chips += 1
        return chip

    def gpiochip_close(self, handle):
        self.open_chips -= 1
        self.outputs.clear()

    def gpio_claim_input(self, handle, gpio, flags=0):
        if gpio in self.taken:
            raise self.error("'GPIO busy'")
        self.outputs.discard(gpio)
        self.level[gpio] = 1 if flags != CONSTANTS["SET_PULL_DOWN"] else 0

    def gpio_claim_output(self, handle, gpio, level=0, flags=0):
        self.outputs.add(gpio)
        self.level[gpio] = level

    def gpio_free(self, handle, gpio):
        self.outputs.discard(gpio)

    def gpio_get_mode(self, handle, gpio):
        return OUT_BIT if gpio in self.outputs else 0

    def gpio_read(self, handle, gpio):
        return self.level.get(gpio, 1)

    def gpio_write(self, handle, gpio, level):
        assert gpio in self.outputs, f"pin {gpio} is no output"
        self.level[gpio] = int(level)

    def gpio_set_debounce_micros(self, handle, gpio, micros):
        assert micros == 0

    def spi_open(self, port, device, baud, flags=0):
        if self.bus_off:
            raise self.error("'can not open SPI device'")
        self.handles += 1
        self.open_buses[self.handles] = (port, device, baud, flags)
        return self.handles

    def spi_close(self, handle):
        del self.open_buses[handle]

    def spi_xfer(self, handle, data):
        assert handle in self.open_buses
        back = [0] * len(data)
        for select, chip in self.chips.items():
            if select in self.outputs and not self.level[select]:
                chip.select(True)
                back = [chip.exchange(byte) for byte in data]
        return len(data), bytearray(back)
