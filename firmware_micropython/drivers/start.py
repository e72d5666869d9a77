"""Before the firmware itself: the ways back to the prompt, and the large buffers while there is room.

The heap of a Pico is just large enough, so it is kept in order: the large buffers are made before
anything is imported, garbage is collected every few kilobytes so that what stays lies close
together, and a piece of air is held back for talk's answers until all else has settled. If the
board does not fit with the longest record it is made with a shorter one.
"""

import gc
import sys
import time

import machine
import micropython

from . import board

SLOTS = (6000, 5000, 4000, 3000, 2000, 600)
"""Record slots to try: as long a record as fits."""
COLLECT_EVERY = 8192
AIR_BYTES = 12288
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
    """The board, ready to ``run()``; None to stop at the prompt."""
    if wanted_at_prompt():
        return None
    micropython.kbd_intr(-1)
    micropython.alloc_emergency_exception_buf(128)
    gc.threshold(COLLECT_EVERY)
    room, air = _room(SLOTS[0])
    try:
        from . import loop
    except MemoryError:
        room = air = None
        _forget()
        from . import loop
    for slots in SLOTS:
        try:
            if room is None:
                room, air = _room(slots)
            pico = loop.make(room)
            break
        except MemoryError:
            room = air = None
            if slots == SLOTS[-1]:
                raise
    del air
    gc.threshold(-1)
    gc.collect()
    return pico


def _room(slots):
    """The engine's buffers and the air, in one piece each."""
    from locum_board.room import Room

    gc.collect()
    return Room(slots), bytearray(AIR_BYTES)


def _forget():
    """Take back what was imported so far, wherever it is held."""
    package = sys.modules[__name__[: __name__.rfind(".")]]
    for name in list(sys.modules):
        if name.startswith("locum_board") or name.startswith("drivers."):
            if name != __name__:
                del sys.modules[name]
                if name.startswith("drivers.") and hasattr(package, name[8:]):
                    delattr(package, name[8:])
    gc.collect()
