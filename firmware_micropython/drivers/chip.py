"""What the RP2040 itself is for talk: memory that survives a reset, flash, watchdog, the beat held back.

Nothing here drives a pin.
"""

import gc
import os
import time

import machine

from locum_board import hands as wanted

from .start import SCRATCH, SCRATCH_BITS, SCRATCH_MARK
from .store import Store

REASON = 0x40058008
USB_STATUS = 0x50110050

TYPE_CHECKING = False
if TYPE_CHECKING:
    from .coil import Coil


class Chip(wanted.Hands):
    """The half of ``pico.PicoHands`` that needs no circuit; ``_coil`` is made by the other."""

    _coil: "Coil"

    def __init__(self, store_folder):
        self.serial = "".join(["%02x" % byte for byte in machine.unique_id()])
        self.boot_id = _boot_id()
        self._reset_cause = _reset_cause()
        self.watchdog = None
        self.leave = False  # set by maintenance(); the loop ends
        self.store_files = Store(store_folder, self.feed)

    @property
    def supply(self):
        """1 a computer talks USB, 2 nothing but power comes in by it."""
        status = machine.mem32[USB_STATUS]
        return 1 if status & 0x10000 and not status & 0x10 else 2

    def keep_cause(self, cause):
        machine.mem32[SCRATCH] = SCRATCH_MARK | cause & 0xFF

    def kept_cause(self):
        kept = machine.mem32[SCRATCH]
        return kept & 0xFF if kept & SCRATCH_BITS == SCRATCH_MARK else 0

    def reset_cause(self):
        return self._reset_cause

    def store(self, name, data):
        if self._coil.on:
            return False  # erasing flash would stop the player for tens of milliseconds
        return self.store_files.save(name, data)

    def recall(self, name):
        return self.store_files.load(name)

    def between_beats(self, doing, now_ms):
        held = machine.disable_irq()
        try:
            doing(time.ticks_ms())
        finally:
            machine.enable_irq(held)

    def free_bytes(self):
        return gc.mem_free()

    def maintenance(self):
        if self._coil.on:
            return False
        self.leave = True
        return True

    def guard(self):
        """Start the watchdog; it cannot be stopped again, so only when standing in begins."""
        if self.watchdog is None:
            self.watchdog = machine.WDT(timeout=4000)

    def feed(self):
        if self.watchdog is not None:
            self.watchdog.feed()


def _boot_id():
    """Another number after each start, 1..2**30 - 1."""
    value = 0
    for byte in os.urandom(4):
        value = value << 8 | byte
    return (value & 0x3FFFFFFF) or 1


def _reset_cause():
    """1 the watchdog ran out, 3 the program asked, 0 power."""
    reason = machine.mem32[REASON]
    if reason & 1:
        return 1
    return 3 if reason & 2 else 0
