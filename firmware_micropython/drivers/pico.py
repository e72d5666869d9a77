"""The Pico as a body: the engine's hands on real pins.

The methods of the player's group run in a timer interrupt: they allocate nothing and do not
raise; native code where it is called every millisecond. Those of talk's group, most of them in
``chip.py``, run in the main loop.
"""

import sys
import time

import machine
import micropython

from locum_board import chips, scales
from locum_board import hands as wanted

from . import board as signals
from .bus import Bus
from .chip import Chip
from .coil import Coil


class PicoHands(Chip):
    """One Pico board. Making it puts every output at rest and takes all wipers out."""

    sampled = True

    def __init__(self, description, store_folder="store"):
        pins = signals.PINS
        names = description.signals
        pin = machine.Pin
        # At rest before anything else: the coil first, then what could load the line.
        self._coil = Coil(pins["RELAY"], pins["HEART"])
        self._conn = pin(pins["CONN"], pin.OUT, value=0) if "CONN" in names else None
        self._short = pin(pins["SHORT"], pin.OUT, value=0) if "SHORT" in names else None
        self._hot = tuple(
            [pin(pins[name], pin.OUT, value=0) for name in ("HOT1", "HOT2") if name in names]
        )
        self._ranges = tuple(
            [
                pin(pins[name], pin.OUT, value=1)
                for name in ("RANGE_1K5", "RANGE_12K", "RANGE_100K")
                if name in names
            ]
        )
        self._led = pin(pins["LED"], pin.OUT, value=0)
        selects = [pins[name] for name in ("CS_POT10K", "CS_POT100K") if name in names]
        self._bus = Bus(pins, selects, pins["CS_ADC"] if description.converter else None)
        self._network = chips.Wipers(
            self._bus.send, self._switch_hot, description.wipers, self._bus.send_all
        )
        self._network.all_out()

        self._button = pin(pins["BUTTON"], pin.IN, pin.PULL_UP)
        self._trip = pin(pins["TRIP"], pin.IN, pin.PULL_UP) if "TRIP" in names else None
        self._rest = pin(pins["REST"], pin.IN, pin.PULL_UP)
        self._lines = tuple(
            [pin(pins["WATCH%d" % (n + 1)], pin.IN) for n in range(description.lines)]
        )
        self._own_adc = None if description.converter else machine.ADC(pin(pins["NODE2"])).read_u16

        self.model = description.id
        self.abilities = description.abilities
        self.wiper_count = description.wipers
        self.line_count = description.lines
        self.node_full_0v1mv = description.node_full_0v1mv
        self.line_high_0v1mv = description.line_high_0v1mv
        self.vbus_low_0v1mv = description.vbus_low_0v1mv
        Chip.__init__(self, store_folder)

        self.node = 0
        self.ohm = 0
        self.fault = 0
        self.beat_us = 0  # when the beat now running should have begun; the loop's
        self._range_now = 3
        self._ask_node = chips.adc_bytes(scales.ADC_NODE)
        self._ask_ohm = chips.adc_bytes(scales.ADC_OHM)
        self._ask_aux = tuple([chips.adc_bytes(channel) for channel in range(8)])
        self._contact = 0
        self._words = [chips.OUT] * 4
        if self._conn is not None:
            self.wipers = self._network.set  # straight there: the interrupt has little stack
        self.beat = self._coil.beat  # one call less each millisecond
        self._paused = False

    # ---- the player's group ------------------------------------------------------------------

    @micropython.native
    def sample(self):
        if self._paused:
            return
        own = self._own_adc
        if own is not None:
            self.node = own() >> 4
            return
        bus = self._bus
        ask = self._ask_node
        self.node = bus.count(ask[0], ask[1])
        if self._range_now < 3:
            ask = self._ask_ohm
            self.ohm = bus.count(ask[0], ask[1])

    @micropython.native
    def late_us(self):
        return time.ticks_diff(time.ticks_us(), self.beat_us)

    @micropython.native
    def lines(self):
        levels = 0
        bit = 1
        for line in self._lines:
            if line():
                levels |= bit
            bit <<= 1
        return levels

    @micropython.native
    def button(self):
        return 0 if self._button() else 1

    @micropython.native
    def line_tripped(self):
        trip = self._trip
        return 0 if trip is None or trip() else 1

    @micropython.native
    def rest_switch(self):
        return 0 if self._rest() else 1

    def aux(self, channel):
        if self._own_adc is not None or self._paused:
            return wanted.AUX_NONE
        if channel == wanted.AUX_THROTTLE:
            return scales.halved_0v1mv(self._aux(scales.ADC_THROTTLE))
        if channel == wanted.AUX_RETURN_OFFSET:
            return scales.return_offset_0v1mv(self._aux(scales.ADC_RETURN))
        if channel == wanted.AUX_BOARD_C:
            return scales.milli_c(self._aux(scales.ADC_BOARD_C))
        if channel == wanted.AUX_VBUS:
            return scales.supply_0v1mv(self._aux(scales.ADC_VBUS))
        return scales.supply_0v1mv(self._aux(scales.ADC_VPOT))

    def _aux(self, channel):
        ask = self._ask_aux[channel]
        return self._bus.count(ask[0], ask[1])

    def relay(self, on):
        self.fault = 0
        if on and not self._answering():
            self.fault = 1  # the player trips on it at its next beat
            on = 0
        self._coil.set(on)

    def beat(self):
        self._coil.beat()

    def wipers(self, w0, w1, w2, w3, hot):
        words = self._words
        words[0] = w0
        words[1] = w1
        words[2] = w2
        words[3] = w3
        if self._contact == 1 and self._conn is None:
            return  # open by the wipers: they stay out until the contact closes again
        self._network.set(w0, w1, w2, w3, hot)

    def _switch_hot(self, bits):
        for branch in self._hot:
            branch(bits & 1)
            bits >>= 1

    def contact(self, kind):
        self._contact = kind
        conn = self._conn
        short = self._short
        if conn is None:
            if kind == 1:
                self._network.set(chips.OUT, chips.OUT, chips.OUT, chips.OUT, 0)
            else:
                words = self._words
                self._network.set(words[0], words[1], words[2], words[3], 0)
            return
        # Break before make: these relays open in 0.2 ms and close in 0.5 ms or more.
        if kind != 2 and short is not None:
            short(0)
        if kind != 0:
            conn(0)
        if kind == 0:
            conn(1)
        elif kind == 2 and short is not None:
            short(1)

    def range(self, number):
        self._range_now = number
        place = 0
        for switch in self._ranges:
            switch(0 if place == number else 1)
            place += 1

    def led(self, on):
        self._led(1 if on else 0)

    def _answering(self):
        """Read TCON of every chip back: before the coil is driven, each must say what it was told."""
        network = self._network
        chip = 0
        count = len(network.tcon)
        while chip < count:
            if self._bus.read(chip, chips.TCON) != network.expected(chip, chips.TCON):
                return False
            chip += 1
        return True

    # ---- talk's group ------------------------------------------------------------------------

    def self_test(self):
        """Pots read back, converter, rails, half reference, and the relay seen at rest.

        Only while the coil is not driven: then the ohmmeter sits on the stand-in and must see the
        network that is set. The player's sampling stands aside for the tens of milliseconds.
        """
        if self._coil.on:
            return False, "standing in: end it first"
        from . import selftest  # only in memory while it is used

        self._paused = True
        range_before = self._range_now
        words = list(self._network.want)
        hot = self._network.hot
        try:
            return selftest.run(self._bus, self._network, self.range, bool(self._ranges))
        finally:
            self._network.set(words[0], words[1], words[2], words[3], hot)
            self.range(range_before)
            self._paused = False
            sys.modules.pop(selftest.__name__, None)

    # ---- the loop's --------------------------------------------------------------------------

    def rest_now(self):
        """Every output at rest, whatever the engine thinks; used by every way out."""
        self._coil.set(0)
        self._led(0)
        if self._conn is not None:
            self._conn(0)
        if self._short is not None:
            self._short(0)
        for switch in self._ranges:
            switch(1)
        self._switch_hot(0)

    def recover(self, range_number):
        """After ``rest_now``: let chips and pins be again what the engine takes them to be at rest."""
        self._network.forget()
        self._network.all_out()
        self.contact(0)
        self.range(range_number)
