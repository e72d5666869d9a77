"""The SPI bus with everything on it: two dual potentiometers and the converter.

Mode 0, 1 MHz for all: the converter's limit at 3.3 V, and the fastest at which the potentiometers'
answers come back through their divider. All chip selects are plain outputs, high when idle. Every
transfer is made by the player (or at start-up, before it runs), so that two never overlap.
"""

import sys
from array import array

import machine
import micropython

from locum_board import chips

from . import wire

BAUD = 1000000


class Bus:
    """``selects``: chip-select pins of the potentiometers; ``adc_select``: of the converter."""

    def __init__(self, pins, selects, adc_select):
        pin = machine.Pin
        # Selects go high before the clock runs: no chip may take the first edges for a word.
        self._selects = tuple([pin(number, pin.OUT, value=1) for number in selects])
        self._adc_select = None if adc_select is None else pin(adc_select, pin.OUT, value=1)
        self._spi = machine.SPI(
            0,
            baudrate=BAUD,
            polarity=0,
            phase=0,
            sck=pin(pins["SCK"]),
            mosi=pin(pins["MOSI"]),
            miso=pin(pins["MISO"]),
        )
        self._swap = self._spi.write_readinto
        self._two = bytearray(2)
        self._two_back = bytearray(2)
        self._ask = bytearray(3)
        self._back = bytearray(3)
        # By registers where there are some: a call of the bus's own takes as long as four words.
        self._direct = sys.platform == "rp2"
        self._masks = array("i", [1 << number for number in selects])
        self._adc_mask = 0 if adc_select is None else 1 << adc_select
        self._spi_at = wire.SPI0
        self._pins_at = wire.SIO
        self.no_answer = 0  # conversions whose null bit was not there

    @micropython.native
    def send(self, chip, first, second):
        """Two bytes to one potentiometer chip; what came back is in ``back_value()``."""
        two = self._two
        two[0] = first
        two[1] = second
        select = self._selects[chip]
        select(0)
        self._swap(two, self._two_back)
        select(1)

    @micropython.native
    def send_all(self, words, at, end):
        """A run of words as ``chips.lay`` has laid them, with nothing between them."""
        if self._direct:
            wire.send_all(self._spi_at, self._pins_at, self._masks, words, at, end)
            return
        while at < end:
            word = words[at]
            self.send(word >> 16, word >> 8 & 0xFF, word & 0xFF)
            at += 1

    def read(self, chip, register):
        """Register of a potentiometer chip, or -1 if its error bit says that nobody understood."""
        self.send(chip, register << 4 | chips.READ | 3, 0xFF)
        return chips.read_value(self._two_back[0], self._two_back[1])

    @micropython.native
    def count(self, first, second):
        """One conversion, 0..4095, of the channel in the two bytes of ``chips.adc_bytes``."""
        if self._direct:
            both = wire.count(self._spi_at, self._pins_at, self._adc_mask, first, second)
            if both & 0x1000:
                self.no_answer += 1
            return both & 0xFFF
        select = self._adc_select
        if select is None:
            return 0  # a board without a converter
        ask = self._ask
        back = self._back
        ask[0] = first
        ask[1] = second
        select(0)
        self._swap(ask, back)
        select(1)
        high = back[1]
        if high & 16:
            self.no_answer += 1
        return (high & 15) << 8 | back[2]
