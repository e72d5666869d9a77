"""The part of MicroPython's ``time`` that the firmware uses, on the fake board's clock."""

import machine


def ticks_ms():
    return machine.WORLD.us // 1000 & 0x3FFFFFFF


def ticks_us():
    machine.WORLD.us += 1  # a program that waits by looking must not wait for ever
    return machine.WORLD.us & 0x3FFFFFFF


def ticks_diff(a, b):
    return ((a - b + 0x20000000) & 0x3FFFFFFF) - 0x20000000


def sleep_ms(milliseconds):
    machine.pass_us(milliseconds * 1000)


def sleep_us(microseconds):
    machine.pass_us(microseconds)


def ticks_add(ticks, more):
    return (ticks + more) & 0x3FFFFFFF
