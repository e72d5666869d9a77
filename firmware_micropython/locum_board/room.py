"""The large buffers, made before anything else so that they find their room whole.

A small board makes its Room first and imports the engine after it, by :func:`load`: garbage of one
import is gone before the next, or the heap ends in holes too small for anything.
"""

import gc

PLAN_BYTES = 28032  # steps.BLOCK_BYTES
LADDER_BYTES = 9232  # ladder.BLOCK_BYTES
SLOT_BYTES = 8  # records.SLOT_BYTES
SLOTS = 6000


MODULES = (
    "ticks states steps ladder records hands mailbox status words tree framing orders player_state"
    " watching keeping talk_state settings loading queries talk obeying playing walking relaying sensing sampling measuring player engine"
)


def load():
    """Import the engine piece by piece; returns its class."""
    for name in MODULES.split():
        __import__("locum_board." + name)
        gc.collect()
    from .engine import Engine

    return Engine


class Room:
    """Two plans, the ladder and the record's ring: 113 kB with 6,000 slots."""

    def __init__(self, slots=SLOTS):
        self.slots = slots
        self.record = bytearray(slots * SLOT_BYTES)
        self.plans = (bytearray(PLAN_BYTES), bytearray(PLAN_BYTES))
        self.ladder = bytearray(LADDER_BYTES)
