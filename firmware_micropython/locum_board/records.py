"""The record on its way to the host: slots of 12 bytes in a ring.

Two shapes, told apart by bit 15 of the first word:

    sample   bits  field
             ====  ==========================================================
             1     0
             2     source: 0 real sensor, 1 stand-in, 2 moving
             2     ohmmeter range 0..2, 3 = not read
             7     span in buckets, 1..100
             4     readings per bucket (15 = 15 or more)
             16    node mean, sixteenths of an ADC count
             12+12 node least, greatest, counts
             16    ohmmeter mean, sixteenths of a count
             12+12 ohmmeter least, greatest

    event    <H   bit 15 set, bits 8-14 kind, 0-7 sub
             I    tick [ms]
             i    value
             H    extra

A sample begins where the one before it ended, so it needs no time of its own; where that is not
so, a TIME event says where it begins. Counts stay raw: the host turns them into volts and ohms.

The answer to TRACe:DATA? is a block:

    2 b"LR"  1 format 1  1 bucket [ms]  4 boot id  4 seq of first slot  4 tick where the next
    sample begins  4 slots lost since power-up  4 node full scale [0.1 mV]  3 x 4 ohmmeter
    references [milliohm]  2 slots in the block  2 ohmmeter offset [1/16 count, signed]
    12 n slots  4 CRC-32

When the ring is full, new samples are dropped and counted, never old ones overwritten: producer
(the player, perhaps in an interrupt) and consumer (talk) then need no lock. The last RESERVE
slots are kept for events.
"""

import binascii
import struct

SLOT_BYTES = 12
FORMAT = 1
HEADER = "<2sBBIIIIIIIIHh"
HEADER_BYTES = 40
RESERVE = 64
MAX_SPAN = 100
MAX_BLOCK_SLOTS = 340

(
    TIME,  # tick: the next sample begins here
    GAP,  # tick: resumes here; value: slots lost
    EDGE,  # sub: line * 2 + level
    DUTY,  # sub: line; value: permille
    MARK,  # sub: kind; value: ago [ms]
    MOVE,  # sub: kind; value
    STATE,  # sub: state; extra: cause
    AUX,  # sub: channel; value
    NOTE,  # sub: NOTE_*; value
) = range(9)

NOTE_SILENCE, NOTE_HEARD, NOTE_LATE, NOTE_SELF_CHECK, NOTE_EDGES_LOST, NOTE_REFUSED = range(6)

MARK_BUTTON = 0
MOVE_RELAY_ON, MOVE_RELAY_OFF, MOVE_STEP, MOVE_OPEN, MOVE_SHORT, MOVE_THROUGH = range(6)
MOVE_FOLLOW, MOVE_RETURN = 6, 7
SOURCE_REAL, SOURCE_STAND_IN, SOURCE_MOVING = range(3)
RANGE_OFF = 3


class Ring:
    """Slots between the player, who puts, and talk, who takes.

    ``head`` and ``tail`` count slots since power-up (at 100 a second 2**30 is four months).
    """

    def __init__(self, slots=6000):
        self.slots = slots
        self.data = bytearray(slots * SLOT_BYTES)
        self.head = 0
        self.tail = 0
        self.lost = 0
        self.lost_told = 0
        self.tail_ms = 0
        self.next_ms = -1  # where the next sample put would begin; -1: nothing put yet

    def waiting(self):
        return self.head - self.tail

    # ---- the player's side: no allocation ----------------------------------------------------

    def sample(self, start_ms, bucket_ms, word, node16, ohm16, nmin, nmax, omin, omax):
        """Put a sample of ``word``'s span that begins at ``start_ms``."""
        if self.slots - self.head + self.tail <= RESERVE:
            self.lost += 1
            self.next_ms = -1
            return
        if self.lost != self.lost_told:
            lost = self.lost - self.lost_told
            self.lost_told = self.lost
            self.event(GAP, 0, start_ms, lost, 0)
            self.next_ms = -1
        if self.next_ms != start_ms:
            self.event(TIME, 0, start_ms, 0, 0)
        struct.pack_into(
            "<6H",
            self.data,
            self.head % self.slots * SLOT_BYTES,
            word,
            node16,
            ohm16,
            nmin | (omin & 15) << 12,
            nmax | (omin >> 4 & 15) << 12,
            omax | (omin >> 8) << 12,
        )
        self.head += 1
        self.next_ms = (start_ms + (word >> 4 & 127) * bucket_ms) & 0x3FFFFFFF

    def event(self, kind, sub, tick, value, extra):
        """Put an event; dropped and counted when the ring is quite full."""
        if self.head - self.tail >= self.slots:
            self.lost += 1
            return
        struct.pack_into(
            "<HIiH",
            self.data,
            self.head % self.slots * SLOT_BYTES,
            0x8000 | kind << 8 | sub,
            tick,
            value,
            extra,
        )
        self.head += 1

    # ---- talk's side -------------------------------------------------------------------------

    def take(self, most, hands, ohm_offset=0):
        """Up to ``most`` slots as a block for the host; they are gone from the ring then."""
        count = self.head - self.tail
        if count > most:
            count = most
        ranges = hands.range_milliohm
        head = struct.pack(
            HEADER,
            b"LR",
            FORMAT,
            hands.bucket_ms,
            hands.boot_id,
            self.tail & 0xFFFFFFFF,
            self.tail_ms,
            self.lost & 0xFFFFFFFF,
            hands.node_full_0v1mv,
            ranges[0],
            ranges[1],
            ranges[2],
            count,
            ohm_offset,
        )
        out = bytearray(HEADER_BYTES + count * SLOT_BYTES + 4)
        out[:HEADER_BYTES] = head
        first = self.tail % self.slots
        run = count if first + count <= self.slots else self.slots - first
        view = memoryview(self.data)
        middle = HEADER_BYTES + run * SLOT_BYTES
        out[HEADER_BYTES:middle] = view[first * SLOT_BYTES : (first + run) * SLOT_BYTES]
        out[middle:-4] = view[: (count - run) * SLOT_BYTES]
        for at in range(HEADER_BYTES, HEADER_BYTES + count * SLOT_BYTES, SLOT_BYTES):
            word = out[at] | out[at + 1] << 8
            if word < 0x8000:
                self.tail_ms = (self.tail_ms + (word >> 4 & 127) * hands.bucket_ms) & 0x3FFFFFFF
            elif word >> 8 & 127 == TIME:
                self.tail_ms = struct.unpack_from("<I", out, at + 2)[0]
        struct.pack_into("<I", out, len(out) - 4, binascii.crc32(memoryview(out)[:-4]) & 0xFFFFFFFF)
        self.tail += count
        return out

    def clear(self, now_ms):
        """Forget what waits; the record begins at ``now_ms``."""
        self.tail = self.head
        self.tail_ms = now_ms
        self.next_ms = -1
