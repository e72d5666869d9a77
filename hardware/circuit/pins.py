"""Which pin serves which signal, on the Pico and on the Raspberry Pi.

The two tables are the single source: `[pins.pico]` and `[pins.pi]` in `hardware/boards/*.toml`
are written from them, the netlist joins the Pico's legs by them, and the firmware and the Pi body
are tested against them. Numbers are GPIO numbers (Pico: GPn, Pi: BCM n), not header positions.

Choices that are not arbitrary
------------------------------
* `RELAY` and `HEART` sit on Pi pins that are pulled **down** at boot, the range pins on pins that
  are pulled **up** (low = on), so that a booting Pi neither closes the relay nor drives the
  ohmmeter. BCM 0-8 are pulled up at boot, 9-27 down (BCM2835 peripherals manual).
* `WATCH5` and `WATCH6` are BCM 2 and 3: the Pi has 1.8 kohm pull-ups soldered there, which the
  open-collector comparators sink (1.8 mA).
* The chip selects are plain outputs; the SPI driver's own are parked on unused pins.
* `NODE2` is the Pico's own converter on the buffered node, a second opinion; a Pi has none.
"""

from __future__ import annotations

PICO: dict[str, int] = {
    "SCK": 18,
    "MOSI": 19,
    "MISO": 16,
    "CS_ADC": 17,
    "CS_POT10K": 20,
    "CS_POT100K": 21,
    "RELAY": 2,
    "HEART": 3,
    "CONN": 4,
    "SHORT": 5,
    "HOT1": 22,
    "HOT2": 1,
    "RANGE_1K5": 6,
    "RANGE_12K": 7,
    "RANGE_100K": 8,
    "WATCH1": 10,
    "WATCH2": 11,
    "WATCH3": 12,
    "WATCH4": 13,
    "WATCH5": 0,
    "WATCH6": 27,
    "TRIP": 9,
    "BUTTON": 14,
    "LED": 15,
    "REST": 28,
    "NODE2": 26,
}

PI: dict[str, int] = {
    "SCK": 11,
    "MOSI": 10,
    "MISO": 9,
    "CS_ADC": 8,
    "CS_POT10K": 7,
    "CS_POT100K": 16,
    "RELAY": 17,
    "HEART": 27,
    "CONN": 22,
    "SHORT": 23,
    "HOT1": 24,
    "HOT2": 15,
    "RANGE_1K5": 4,
    "RANGE_12K": 5,
    "RANGE_100K": 6,
    "WATCH1": 12,
    "WATCH2": 13,
    "WATCH3": 19,
    "WATCH4": 26,
    "WATCH5": 2,
    "WATCH6": 3,
    "TRIP": 18,
    "BUTTON": 20,
    "LED": 21,
    "REST": 25,
}

ACTIVE_LOW = (
    "CS_ADC",
    "CS_POT10K",
    "CS_POT100K",
    "RANGE_1K5",
    "RANGE_12K",
    "RANGE_100K",
    "TRIP",
    "BUTTON",
)
"""Signals that mean yes when low. `REST` is high while the switch feeds the coil, low = at rest
(its divider is 6.8 kohm to ground, so that a carrier's own pull-up of 50 kohm cannot lift it)."""

STARTER = ("SCK", "MOSI", "MISO", "CS_POT10K", "RELAY", "HEART", "BUTTON", "LED", "REST", "NODE2",
           "WATCH1", "WATCH2")  # fmt: skip
"""What the starter board uses; its node is read by the Pico's own converter (`NODE2`)."""

PI_BOOT_PULL_UP = range(0, 9)
"""BCM numbers that a Pi pulls up until a program says otherwise; the others are pulled down."""

PICO_HEADER: dict[int, int] = {
    0: 1, 1: 2, 2: 4, 3: 5, 4: 6, 5: 7, 6: 9, 7: 10, 8: 11, 9: 12, 10: 14, 11: 15, 12: 16,
    13: 17, 14: 19, 15: 20, 16: 21, 17: 22, 18: 24, 19: 25, 20: 26, 21: 27, 22: 29, 26: 31,
    27: 32, 28: 34,
}  # fmt: skip
"""GPIO number to position on the Pico's 40-pin edge (USB up, 1 at the top left)."""

PI_HEADER: dict[int, int] = {
    2: 3, 3: 5, 4: 7, 14: 8, 15: 10, 17: 11, 18: 12, 27: 13, 22: 15, 23: 16, 24: 18, 10: 19,
    9: 21, 25: 22, 11: 23, 8: 24, 7: 26, 5: 29, 6: 31, 12: 32, 13: 33, 19: 35, 16: 36, 26: 37,
    20: 38, 21: 40,
}  # fmt: skip
"""BCM number to position on the Pi's 40-pin header."""

LINE_KINDS = ("switched", "pwm", "peak_hold", "ignore")
WATCH_LINES = 6
STARTER_WATCH_LINES = 2
WATCH_THRESHOLD_V = 6.45
"""Middle of the comparator's band (6.05-6.82 V over tolerances and hysteresis)."""


def pico_signals(board: str) -> dict[str, int]:
    """The signals that `board` ("reference", "starter" or "pi") brings to the Pico."""
    return {name: PICO[name] for name in STARTER} if board == "starter" else dict(PICO)
