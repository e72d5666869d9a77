"""The large buffers, made before anything else so that they find their room whole.

Imports nothing: a small board makes its Room first and imports the engine after it.
"""

PLAN_BYTES = 28032  # steps.BLOCK_BYTES
LADDER_BYTES = 9232  # ladder.BLOCK_BYTES
SLOT_BYTES = 8  # records.SLOT_BYTES
SLOTS = 6000


class Room:
    """Two plans, the ladder and the record's ring: 113 kB with 6,000 slots."""

    def __init__(self, slots=SLOTS):
        self.slots = slots
        self.record = bytearray(slots * SLOT_BYTES)
        self.plans = (bytearray(PLAN_BYTES), bytearray(PLAN_BYTES))
        self.ladder = bytearray(LADDER_BYTES)
