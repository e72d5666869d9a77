"""What the converter's counts of the slow inputs mean; integers, so that nothing allocates.

All inputs are 12 bits of 3.3 V. Supplies, throttle and node come halved. The wire to the battery's
negative pole comes as a third of its sum with 3.3 V and ground (220 kohm each), so that it can
be read on either side of zero. The board's own temperature is a 10 kohm thermistor to ground with
10 kohm to the reference: rows are (count, milli-degC) for beta 3950 K, straight lines between rows
err by less than 0.7 K, which is plenty for one small line of the uncertainty budget.
"""

ADC_OHM, ADC_NODE, ADC_VPOT, ADC_VBUS, ADC_RETURN, ADC_BOARD_C, ADC_HALF_VREF, ADC_THROTTLE = range(
    8
)
"""Channels of the converter."""
NOT_CONNECTED_0V1MV = 10000
"""A supply that reads below 1 V cannot be feeding the board: its divider is not there."""
NONE = -(1 << 29)


BETA_K = 3950
ROWS = (
    (3997, -40000),
    (3901, -30000),
    (3741, -20000),
    (3496, -10000),
    (3157, 0),
    (2739, 10000),
    (2278, 20000),
    (1825, 30000),
    (1419, 40000),
    (1082, 50000),
    (816, 60000),
    (613, 70000),
    (462, 80000),
    (350, 90000),
    (267, 100000),
)


def milli_c(count):
    """Temperature of a converter count, clipped to the table's ends. [milli-degC]"""
    above = ROWS[0]
    if count >= above[0]:
        return above[1]
    for row in ROWS:
        if count >= row[0]:
            # both differences are small: the product stays below 2**30
            return row[1] - (count - row[0]) * (row[1] - above[1]) // (above[0] - row[0])
        above = row
    return above[1]


def halved_0v1mv(count):
    """An input that comes by a divider of two. [0.1 mV]"""
    return count * 66000 // 4096


def supply_0v1mv(count):
    """A supply that comes halved, or NONE. [0.1 mV]"""
    volts = halved_0v1mv(count)
    return volts if volts >= NOT_CONNECTED_0V1MV else NONE


def return_offset_0v1mv(count):
    """Sensor return against the battery's negative pole. [0.1 mV]"""
    return (4096 - 3 * count) * 33000 // 4096
