"""``*TST?`` of a Raspberry Pi: potentiometers, converter, rails, and the relay seen at rest.

The same looks in the same order as the Pico's own (``firmware_micropython/drivers/selftest.py``): with
the coil not driven the ohmmeter sits on the stand-in's network. It must then read one wiper where its
code says, and nothing at all with every wiper out; a relay that is stuck over reads the real sensor
both times.
"""

from __future__ import annotations

from collections.abc import Callable

from locum.bodies.pi_pins import Bus
from locum_board import chips, scales

SETTLE_S = 0.006
PATTERN = (0x055, 0x0AA)
HALF_COUNT, HALF_TOLERANCE = 2048, 16
RAILS = (
    ("potentiometer supply", scales.ADC_VPOT, (51500, 54500)),
    ("USB supply", scales.ADC_VBUS, (44000, 55000)),
)
"""Name, channel, limits [0.1 mV]."""
OPEN_COUNT = 4000
P1_CODE, P1_COUNTS = 128, (1040, 1460)
"""P1 at half scale is 5.1 kohm within 21 %, with 36 ohm in series; on the 12.05 kohm range."""
RANGE_12K, RANGE_OFF = 1, 3


def look(
    bus: Bus,
    network: chips.Wipers,
    choose_range: Callable[[int], None],
    wait: Callable[[float], None],
) -> tuple[bool, str]:
    """(passed, text): text names everything that is wrong, or says what was looked at.

    Only while the coil is not driven; the network is left with every wiper out. ``wait`` takes seconds.
    """
    wrong = [
        *_pots(bus, network),
        *_converter(bus),
        *_rails(bus),
        *_relay(bus, network, choose_range, wait),
    ]
    return not wrong, "; ".join(wrong) or "pots, converter, rails, relay"


def _pots(bus: Bus, network: chips.Wipers) -> list[str]:
    network.forget()
    network.all_out()
    wrong = []
    for chip in range(len(network.tcon)):
        for side in (0, 1):
            bus.send(chip, side << 4, PATTERN[side])
        found = [bus.read(chip, 0), bus.read(chip, 1), bus.read(chip, chips.TCON)]
        if found != [*PATTERN, chips.TCON_NONE]:
            wrong.append(f"potentiometer chip {chip + 1} read back {found}")
    network.forget()
    network.all_out()
    return wrong


def _converter(bus: Bus) -> list[str]:
    half = bus.count(scales.ADC_HALF_VREF)
    if abs(half - HALF_COUNT) > HALF_TOLERANCE:
        return [f"converter reads half its reference as {half} of 4096"]
    return []


def _rails(bus: Bus) -> list[str]:
    wrong = []
    for name, channel, (low, high) in RAILS:
        volts = scales.halved_0v1mv(bus.count(channel))
        if not low <= volts <= high:
            wrong.append(f"{name} {volts // 10} mV")
    return wrong


def _relay(
    bus: Bus,
    network: chips.Wipers,
    choose_range: Callable[[int], None],
    wait: Callable[[float], None],
) -> list[str]:
    choose_range(RANGE_12K)
    wait(SETTLE_S)
    empty = bus.count(scales.ADC_OHM)
    network.set(P1_CODE, chips.OUT, chips.OUT, chips.OUT, 0)
    wait(SETTLE_S)
    half = bus.count(scales.ADC_OHM)
    network.all_out()
    choose_range(RANGE_OFF)
    if empty < OPEN_COUNT or not P1_COUNTS[0] <= half <= P1_COUNTS[1]:
        return [f"relay at rest: ohmmeter {empty} with nothing in, {half} with P1 in"]
    return []
