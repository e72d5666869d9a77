"""A reference board at word level: chips that answer bytes, and the circuit around them.

Shared by the tests that run the drivers on a fake ``machine`` (CPython and MicroPython's unix
interpreter) and by the emulated Pico, so it uses nothing that MicroPython lacks. Potentiometers
are nominal, the converter ideal: what is under test is what leaves the chip, not the analog part.
"""

READ, WRITE = 3, 0
PIN = {
    "CS_ADC": 17, "CS_POT10K": 20, "CS_POT100K": 21, "RELAY": 2, "HEART": 3, "CONN": 4,
    "SHORT": 5, "HOT1": 22, "HOT2": 1, "RANGE_1K5": 6, "RANGE_12K": 7, "RANGE_100K": 8,
    "TRIP": 9, "BUTTON": 14, "LED": 15, "REST": 28, "NODE2": 26,
}  # fmt: skip
"""The reference circuit's table of pins, typed in a second time on purpose."""
WATCH = (10, 11, 12, 13, 0, 27)
PUMP_LETS_GO_MS = 150.0


class Pot:
    """A dual potentiometer of the MCP4251 command layout, two bytes a command."""

    def __init__(self, rab_ohm, wiper_ohm=75.0):
        self.rab_ohm = rab_ohm
        self.wiper_ohm = wiper_ohm
        self.powered = True
        self.words = []  # every 16-bit word that was written or read
        self.power_up()

    def power_up(self):
        self.register = {0: 0x80, 1: 0x80, 4: 0x1FF, 5: 0x1F0}
        self.first = None

    def select(self, low):
        if low:
            self.first = None

    def exchange(self, byte):
        if not self.powered:
            return 0
        if self.first is None:
            self.first = byte
            address, command = byte >> 4, byte >> 2 & 3
            if command == READ and address in self.register:
                return 0xFE | self.register[address] >> 8 & 1
            if command == WRITE and address in (0, 1, 4):
                return 0xFF
            return 0xFC
        address, command = self.first >> 4, self.first >> 2 & 3
        self.words.append(self.first << 8 | byte)
        value = (self.first & 1) << 8 | byte
        self.first = None
        if command == READ:
            return self.register.get(address, 0) & 0xFF
        if command == WRITE and address in (0, 1, 4):
            self.register[address] = value if address == 4 else min(value, 256)
        return 0xFF

    def ohm(self, side):
        """Wiper to B of one potentiometer; None while its terminals are cut."""
        tcon = self.register[4] >> (4 * side) & 0xF
        if not tcon & 8:
            return self.wiper_ohm  # shutdown: wiper tied to B
        if tcon & 3 != 3:
            return None
        return self.wiper_ohm + self.rab_ohm * self.register[side] / 256


class Converter:
    """An MCP3208: start bit, single-ended bit, channel, null bit, twelve bits."""

    def __init__(self, count_of):
        self.count_of = count_of  # channel -> 0..4095
        self.present = True
        self.conversions = 0
        self.select(True)

    def select(self, low):
        self.bits = 0
        self.after = -1  # bits since the start bit
        self.answer = 0

    def exchange(self, byte):
        if not self.present:
            return 0xFF
        back = 0
        for shift in range(7, -1, -1):
            back = back << 1 | self._bit(byte >> shift & 1)
        return back

    def out(self):
        """What the output shows at the next clock."""
        if self.after < 5:
            return 1  # nothing yet: drawn up here, so that a reader who looks too early sees ones
        if self.after == 5:
            return 0
        place = 17 - self.after
        return self.answer >> place & 1 if 0 <= place <= 11 else 0

    def _bit(self, bit):
        shown = self.out()
        if self.after < 0:
            if bit:
                self.after = 0
            return shown
        self.after += 1
        if self.after <= 4:
            self.bits = self.bits << 1 | bit
            if self.after == 4:
                self.conversions += 1
                self.answer = max(0, min(4095, int(self.count_of(self.bits & 7))))
        return shown


class Bench:
    """The board's circuit, a module and a real sensor. ``level(gpio)`` tells an output's level."""

    def __init__(self, level, now_ms):
        self.level = level
        self.now_ms = now_ms  # () -> milliseconds as a float
        self.pots = (Pot(10000.0), Pot(100000.0))
        self.converter = Converter(self.count)
        self.voc_v = 5.0
        self.rth_ohm = 2490.0
        self.sensor_ohm = 2000.0
        self.line_extra_v = 0.0
        self.vbus_v = 5.0
        self.vpot_v = 5.3
        self.throttle_v = 0.6
        self.return_offset_v = 0.0
        self.heart_ms = -1e9
        self.relay_log = []  # (ms, energised)
        self.node_log = None

    # -- what hangs on a chip select -----------------------------------------------------------

    def chip(self, gpio):
        if gpio == PIN["CS_ADC"]:
            return self.converter
        if gpio == PIN["CS_POT10K"]:
            return self.pots[0]
        if gpio == PIN["CS_POT100K"]:
            return self.pots[1]
        return None

    # -- the circuit ---------------------------------------------------------------------------

    def heart_edge(self):
        self.heart_ms = self.now_ms()

    @property
    def energised(self):
        """RELAY high and the pump fed within its time."""
        return bool(self.level(PIN["RELAY"])) and self.now_ms() - self.heart_ms < PUMP_LETS_GO_MS

    @property
    def network_ohm(self):
        """The stand-in as the module sees it: series, contact, wipers and hot branches."""
        if self.level(PIN["SHORT"]):
            return 3.0
        if not self.level(PIN["CONN"]):
            return 1e9
        siemens = 1e-9
        for pot in self.pots:
            for side in (0, 1):
                ohm = pot.ohm(side)
                if ohm is not None:
                    siemens += 1 / ohm
        if self.level(PIN["HOT1"]):
            siemens += 1 / 150.1
        if self.level(PIN["HOT2"]):
            siemens += 1 / 330.1
        return 36.0 + 1 / siemens

    @property
    def node_v(self):
        ohm = self.network_ohm if self.energised else self.sensor_ohm
        return self.voc_v * ohm / (ohm + self.rth_ohm) + self.line_extra_v

    @property
    def reference_ohm(self):
        for name, ohm in (("RANGE_1K5", 1500.0), ("RANGE_12K", 12050.0), ("RANGE_100K", 100750.0)):
            if not self.level(PIN[name]):
                return ohm
        return None

    def count(self, channel):
        """Ideal converter reading of a channel."""
        if channel == 0:
            reference = self.reference_ohm
            if reference is None:
                return 0
            ohm = self.sensor_ohm if self.energised else self.network_ohm
            return round(4096 * ohm / (ohm + reference))
        if channel == 1:
            return round(4096 * self.node_v / 2 / 3.3)
        if channel == 2:
            return round(4096 * self.vpot_v / 2 / 3.3)
        if channel == 3:
            return round(4096 * self.vbus_v / 2 / 3.3)
        if channel == 4:
            return round(4096 * (3.3 - self.return_offset_v) / 3 / 3.3)
        if channel == 5 or channel == 6:
            return 2048
        return round(4096 * self.throttle_v / 2 / 3.3)
