"""Before the firmware itself: the ways back to the prompt, and the large buffers while there is room.

The buffers are made before anything is imported, so that they find the heap whole; if the program
then does not fit beside them, it is tried again with a shorter record.
"""

import gc
import sys
import time

import machine
import micropython

from . import board

SLOTS = (4000, 2000, 600)
"""Record slots to try: as long a record as fits."""
AIR_BYTES = 16384
SCRATCH = 0x4005800C
"""A watchdog register that keeps its value through every reset but power-up."""
SCRATCH_MARK = 0x1ACE0000
SCRATCH_BITS = 0x3FFF0000
GO_TO_PROMPT = 0x100


def wanted_at_prompt():
    """The button is held, or maintenance had to reset the board to get here (forgotten now)."""
    pin = machine.Pin(board.PINS["BUTTON"], machine.Pin.IN, machine.Pin.PULL_UP)
    time.sleep_ms(2)  # the pull-up against the lead's capacitance
    kept = machine.mem32[SCRATCH]
    asked = kept & SCRATCH_BITS == SCRATCH_MARK and kept & GO_TO_PROMPT
    if asked:
        machine.mem32[SCRATCH] = SCRATCH_MARK
    return bool(asked) or not pin()


def prepare():
    """The program's ``run(folder)``, imported and with its room; None to stop at the prompt."""
    if wanted_at_prompt():
        return None
    micropython.kbd_intr(-1)
    micropython.alloc_emergency_exception_buf(128)
    for slots in SLOTS:
        try:
            return _with_room(slots)
        except MemoryError:
            if slots == SLOTS[-1]:
                raise
            _forget()


def _with_room(slots):
    gc.collect()
    from locum_board.room import Room

    room = Room(slots)
    # Kept free in one piece for talk's answers: what stays for good settles elsewhere meanwhile.
    air = bytearray(AIR_BYTES)
    from . import loop

    gc.collect()
    global PICO
    PICO = pico = loop.Board(room)
    del air
    gc.collect()
    return pico.run


def _forget():
    """Take back what was imported so far."""
    for name in list(sys.modules):
        if name.startswith("locum_board") or name in ("drivers.loop", "drivers.pico"):
            del sys.modules[name]
    gc.collect()
