"""MicroPython's ``micropython`` for CPython; under MicroPython the real one is used."""

interrupt_character = 3


def native(function):
    return function


viper = native


def const(value):
    return value


def kbd_intr(character):
    global interrupt_character
    interrupt_character = character


def alloc_emergency_exception_buf(size):
    return None
