"""The bus by the chip's registers: words and conversions with nothing in between.

``spi`` and ``pins`` are addresses, or buffers in their place for a test. The bus has been set up by
MicroPython's own SPI: frames of 8 bits, mode 0. A wait that would not end is given up: the answer is
then wrong, which read-back and self-check see, and the player goes on.
"""
# ruff: noqa: F821  (ptr16, ptr32 are words of the compiler)

import micropython

SPI0 = 0x4003C000
"""Data register at word 2, status at word 3: 4 an answer waits, 16 busy."""
SIO = 0xD0000000
"""Pins: levels at word 1, set at word 5, clear at word 6."""


@micropython.viper
def send_all(spi, pins, masks, words, at: int, end: int):
    bus = ptr32(spi)
    pin = ptr32(pins)
    select = ptr32(masks)
    word = ptr32(words)
    while at < end:
        now = word[at]
        mask = select[now >> 16]
        pin[6] = mask
        bus[2] = (now >> 8) & 0xFF
        bus[2] = now & 0xFF
        wait = 2000
        while bus[3] & 16 and wait:
            wait -= 1
        pin[5] = mask
        at += 1
        now = bus[2]
        now = bus[2]


@micropython.viper
def count(spi, pins, mask: int, first: int, second: int) -> int:
    """Null bit and count, 0..0x1FFF."""
    bus = ptr32(spi)
    pin = ptr32(pins)
    pin[6] = mask
    bus[2] = first
    bus[2] = second
    bus[2] = 0
    wait = 3000
    while bus[3] & 16 and wait:
        wait -= 1
    pin[5] = mask
    both = bus[2]
    both = bus[2]
    both = (both & 31) << 8
    return both | (bus[2] & 0xFF)
