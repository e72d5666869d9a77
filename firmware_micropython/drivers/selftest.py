"""The board looks at itself: potentiometers, converter, rails, and the relay seen at rest.

With the coil not driven the ohmmeter sits on the stand-in's network. It must then read one wiper
where its code says (within the potentiometer's own 20 % and a wiper's resistance), and nothing at
all with every wiper out. A relay that is stuck over reads the real sensor both times.
"""

import time

from locum_board import chips, scales

SETTLE_MS = 6
PATTERN = (0x055, 0x0AA)
HALF_SCALE = 2048
HALF_TOLERANCE = 16
VPOT_0V1MV = (51500, 54500)
VBUS_0V1MV = (44000, 55000)
OPEN_COUNT = 4000
# P1 at half scale is 5.1 kohm +-21 %, with 36 ohm in series; on the 12.05 kohm range
P1_COUNTS = (1040, 1460)
RANGE_12K, RANGE_OFF = 1, 3


def run(bus, network, choose_range, has_ohmmeter):
    """(passed, text): text names everything that is wrong, or says what was looked at."""
    wrong = []
    _pots(bus, network, wrong)
    if has_ohmmeter:
        _converter(bus, wrong)
        _rails(bus, wrong)
        _relay(bus, network, choose_range, wrong)
    if wrong:
        return False, "; ".join(wrong)
    return True, "pots, converter, rails, relay" if has_ohmmeter else "pots"


def _pots(bus, network, wrong):
    network.forget()
    network.all_out()
    for chip in range(len(network.tcon)):
        for side in (0, 1):
            bus.send(chip, side << 4, PATTERN[side])
        found = [bus.read(chip, 0), bus.read(chip, 1), bus.read(chip, chips.TCON)]
        if found != [PATTERN[0], PATTERN[1], chips.TCON_NONE]:
            wrong.append("potentiometer chip %d read back %s" % (chip + 1, found))
    network.forget()
    network.all_out()


def _read(bus, channel):
    first, second = chips.adc_bytes(channel)
    return bus.count(first, second)


def _converter(bus, wrong):
    before = bus.no_answer
    half = _read(bus, scales.ADC_HALF_VREF)
    if bus.no_answer != before:
        wrong.append("converter does not answer")
    elif abs(half - HALF_SCALE) > HALF_TOLERANCE:
        wrong.append("converter reads half its reference as %d of 4096" % half)


def _rails(bus, wrong):
    rails = (
        ("potentiometer supply", scales.ADC_VPOT, VPOT_0V1MV),
        ("USB supply", scales.ADC_VBUS, VBUS_0V1MV),
    )
    for name, channel, limits in rails:
        volts = scales.halved_0v1mv(_read(bus, channel))
        if not limits[0] <= volts <= limits[1]:
            wrong.append("%s %d mV" % (name, volts // 10))


def _relay(bus, network, choose_range, wrong):
    choose_range(RANGE_12K)
    time.sleep_ms(SETTLE_MS)
    empty = _read(bus, scales.ADC_OHM)
    out = chips.OUT
    network.set(128, out, out, out, 0)
    time.sleep_ms(SETTLE_MS)
    half = _read(bus, scales.ADC_OHM)
    network.all_out()
    choose_range(RANGE_OFF)
    if empty < OPEN_COUNT or not P1_COUNTS[0] <= half <= P1_COUNTS[1]:
        wrong.append("relay at rest: ohmmeter %d with nothing in, %d with P1 in" % (empty, half))
