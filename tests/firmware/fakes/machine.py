"""A fake ``machine``: pins, bus, converter, timer, watchdog, registers; for both interpreters.

``WORLD`` is the one board; ``fresh()`` makes another. Outputs start as inputs, as on the chip.
"""


class Reset(BaseException):
    """The program asked for a reset, or the watchdog ran out."""


class World:
    def __init__(self):
        self.pins = {}
        self.inputs = {}
        self.edges = []  # (microseconds, gpio, level)
        self.us = 0
        self.next_us = 0  # when the timers fire next
        self.chip_of = None  # gpio of a select -> chip
        self.on_edge = None  # (gpio, level)
        self.timers = []
        self.held = 0
        self.overdue = 0
        self.dog = None
        self.mem = {}
        self.adc = {}
        self.resets = 0
        self.bus_words = []  # (select gpio, bytes out)

    def level(self, gpio):
        """Level of a pin for the circuit: driven, drawn up, or low."""
        pin = self.pins.get(gpio)
        if pin is None:
            return self.inputs.get(gpio, 0)
        if pin.mode == Pin.OUT:
            return pin.state
        return self.inputs.get(gpio, 1 if pin.pull == Pin.PULL_UP else 0)


WORLD = World()


def fresh():
    global WORLD
    WORLD = World()
    return WORLD


class Pin:
    IN = 0
    OUT = 1
    PULL_UP = 1

    def __init__(self, gpio, mode=0, pull=None, value=None):
        self.gpio = gpio
        self.mode = mode
        self.pull = pull
        self.state = 0
        WORLD.pins[gpio] = self
        if mode == Pin.OUT:
            self._set(value or 0)

    def _set(self, level):
        level = 1 if level else 0
        self.state = level
        WORLD.edges.append((WORLD.us, self.gpio, level))
        chip = WORLD.chip_of(self.gpio) if WORLD.chip_of else None
        if chip is not None:
            chip.select(not level)
        if WORLD.on_edge:
            WORLD.on_edge(self.gpio, level)

    def __call__(self, level=None):
        if level is None:
            return WORLD.level(self.gpio)
        self._set(level)

    value = __call__


class SPI:
    def __init__(self, number, baudrate=0, polarity=0, phase=0, sck=None, mosi=None, miso=None):
        assert (number, baudrate, polarity, phase) == (0, 1000000, 0, 0)
        assert (sck.gpio, mosi.gpio, miso.gpio) == (18, 19, 16)

    def write_readinto(self, out, back):
        selected = [g for g in (17, 20, 21) if g in WORLD.pins and not WORLD.level(g)]
        assert len(selected) == 1, selected
        chip = WORLD.chip_of(selected[0])
        WORLD.bus_words.append((selected[0], bytes(out)))
        for at in range(len(out)):
            back[at] = chip.exchange(out[at])


class ADC:
    def __init__(self, pin):
        self.gpio = pin.gpio

    def read_u16(self):
        return WORLD.adc[self.gpio]() << 4


class Timer:
    PERIODIC = 1

    def __init__(self, id=-1, mode=1, period=1, callback=None, hard=False):
        assert (hard, mode, period) == (True, Timer.PERIODIC, 1)
        self.callback = callback
        WORLD.timers.append(self)

    def deinit(self):
        WORLD.timers.remove(self)


class WDT:
    def __init__(self, timeout=0):
        self.timeout = timeout
        self.fed_us = WORLD.us
        WORLD.dog = self

    def feed(self):
        self.fed_us = WORLD.us


class _Memory:
    def __getitem__(self, address):
        return WORLD.mem.get(address, 0)

    def __setitem__(self, address, value):
        WORLD.mem[address] = value


mem32 = _Memory()


def unique_id():
    return b"\xe6\x61\x38\x01\x02\x03\x04\x05"


def reset():
    WORLD.resets += 1
    raise Reset


def disable_irq():
    """Timers wait; one that would have fired meanwhile does so at the end."""
    before = WORLD.held
    WORLD.held = 1
    return before


def enable_irq(state):
    WORLD.held = state
    if not state and WORLD.overdue:
        fire()


def fire():
    WORLD.overdue = WORLD.held
    if not WORLD.held:
        for timer in list(WORLD.timers):
            timer.callback(timer)


def pass_us(microseconds):
    """Time goes on: timers fire each millisecond, the watchdog watches."""
    end = WORLD.us + microseconds
    if WORLD.next_us <= WORLD.us:
        WORLD.next_us = WORLD.us // 1000 * 1000 + 1084
    while WORLD.next_us <= end:
        WORLD.us = WORLD.next_us
        WORLD.next_us += 1000
        fire()
        if WORLD.dog is not None and WORLD.us - WORLD.dog.fed_us > WORLD.dog.timeout * 1000:
            WORLD.dog = None
            reset()
    WORLD.us = end
