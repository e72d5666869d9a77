"""The record on its way to the host: slots of 8 bytes in a ring.

A slot is four words of 16 bits; the two top bits of the first say what it is:

    00  quiet sample     01  lively sample, a slot 11 follows     10  event     11  continuation

    sample   bits of word 0
             ====  ==========================================================
             2     0 or 1
             2     source: 0 real sensor, 1 stand-in, 2 moving
             2     ohmmeter range 0..2, 3 = not read
             7     span in buckets, 1..100
             3     readings per bucket: index into PER

             word 1: node mean, word 2: ohmmeter mean, sixteenths of an ADC count
             word 3, quiet: four times 4 bits, from the top: counts that the node went below and
             above its mean (without sixteenths), the same of the ohmmeter
             lively: word 3 node least; continuation words 1-3 node greatest, ohmmeter least,
             ohmmeter greatest, counts

    event    word 0: 2 bits 10, 6 bits kind, 8 bits sub; words 1-2: tick [ms]; word 3: value.
             A value outside 0..65535 stands in the continuation, words 1-2, signed

A sample begins where the one before it ended, so it needs no time of its own; where that is not
so, a TIME event says where it begins. Counts stay raw: the host turns them into volts and ohms.

The answer to TRACe:DATA? is a block:

    2 b"LR"  1 format 1  1 bucket [ms]  4 boot id  4 seq of first slot  4 tick where the next
    sample begins  4 slots lost since power-up  4 node full scale [0.1 mV]  3 x 4 ohmmeter
    references [milliohm]  2 slots in the block  2 ohmmeter offset [1/16 count, signed]
    8 n slots  4 CRC-32

When the ring is full, new samples are dropped and counted, never old ones overwritten: producer
(the player, perhaps in an interrupt) and consumer (talk) then need no lock. The last RESERVE
slots are kept for events.
"""

import binascii
import struct

SLOT_BYTES = 8
FORMAT = 1
HEADER = "<2sBBIIIIIIIIHh"
HEADER_BYTES = 40
RESERVE = 64
MAX_SPAN = 100
PER = (1, 2, 4, 6, 8, 10, 12, 16)
CONTINUED = 0xC000

(
    TIME,  # tick: the next sample begins here
    GAP,  # tick: resumes here; value: slots lost
    EDGE,  # sub: line * 2 + level
    DUTY,  # sub: line; value: permille
    MARK,  # sub: kind; value: ago [ms]
    MOVE,  # sub: kind; value: node expected [0.5 mV], 0 or 0xFFFF = not known
    STATE,  # sub: state; value: cause
    AUX,  # sub: channel; value
    NOTE,  # sub: NOTE_*; value
) = range(9)

NOTE_SILENCE, NOTE_HEARD, NOTE_LATE, NOTE_SELF_CHECK, NOTE_EDGES_LOST, NOTE_REFUSED = range(6)

MARK_BUTTON = 0
MOVE_RELAY_ON, MOVE_RELAY_OFF, MOVE_STEP, MOVE_OPEN, MOVE_SHORT, MOVE_THROUGH = range(6)
MOVE_FOLLOW, MOVE_RETURN = 6, 7
SOURCE_REAL, SOURCE_STAND_IN, SOURCE_MOVING = range(3)
RANGE_OFF = 3


def per_code(readings):
    """Index into PER of the greatest entry that is not above ``readings``."""
    code = 0
    while code < 7 and PER[code + 1] <= readings:
        code += 1
    return code


def put(data, at, w0, w1, w2, w3):
    """Four words of 16 bits, little endian, at byte ``at``."""
    data[at] = w0 & 0xFF
    data[at + 1] = w0 >> 8
    data[at + 2] = w1 & 0xFF
    data[at + 3] = w1 >> 8
    data[at + 4] = w2 & 0xFF
    data[at + 5] = w2 >> 8
    data[at + 6] = w3 & 0xFF
    data[at + 7] = w3 >> 8


class Ring:
    """Slots between the player, who puts, and talk, who takes.

    ``head`` and ``tail`` count slots since power-up (at 100 a second 2**30 is four months).
    """

    def __init__(self, room):
        self.slots = room.slots
        self.data = room.record
        self.head = 0
        self.tail = 0
        self.lost = 0
        self.lost_told = 0
        self.tail_ms = 0
        self.next_ms = -1  # where the next sample put would begin; -1: nothing put yet

    def waiting(self):
        return self.head - self.tail

    # ---- the player's side: no allocation ----------------------------------------------------

    def _put(self, ahead, w0, w1, w2, w3):
        put(self.data, (self.head + ahead) % self.slots * SLOT_BYTES, w0, w1, w2, w3)

    def sample(self, start_ms, bucket_ms, word, node16, ohm16, nmin, nmax, omin, omax):
        """Put a sample of ``word``'s span that begins at ``start_ms``."""
        if self.slots - self.head + self.tail <= RESERVE:
            self.lost += 1
            self.next_ms = -1
            return
        if self.lost != self.lost_told:
            lost = self.lost - self.lost_told
            self.lost_told = self.lost
            self.event(GAP, 0, start_ms, lost if lost < 0xFFFF else 0xFFFF)
            self.next_ms = -1
        if self.next_ms != start_ms:
            self.event(TIME, 0, start_ms, 0)
        node = node16 >> 4
        ohm = ohm16 >> 4
        if node - nmin < 16 and nmax - node < 16 and ohm - omin < 16 and omax - ohm < 16:
            spread = (node - nmin) << 12 | (nmax - node) << 8 | (ohm - omin) << 4 | (omax - ohm)
            self._put(0, word, node16, ohm16, spread)
            self.head += 1
        else:
            self._put(1, CONTINUED, nmax, omin, omax)
            self._put(0, word | 0x4000, node16, ohm16, nmin)
            self.head += 2
        self.next_ms = (start_ms + (word >> 3 & 127) * bucket_ms) & 0x3FFFFFFF

    def event(self, kind, sub, tick, value):
        """Put an event; dropped and counted when the ring is quite full."""
        if self.head - self.tail + 2 > self.slots:
            self.lost += 1
            return
        word = 0x8000 | kind << 8 | sub
        if value >= 0 and value < 65536:
            at = self.head % self.slots * SLOT_BYTES
            put(self.data, at, word, tick & 0xFFFF, tick >> 16, value)
            self.head += 1
        else:
            self._put(1, CONTINUED, value & 0xFFFF, value >> 16 & 0xFFFF, 0)
            self._put(0, word, tick & 0xFFFF, tick >> 16, 0)
            self.head += 2

    # ---- talk's side -------------------------------------------------------------------------

    def _first(self, number):
        """Top byte of the first word of slot ``number``."""
        return self.data[number % self.slots * SLOT_BYTES + 1]

    def take(self, most, hands, ohm_offset=0):
        """Up to ``most`` slots as a block for the host; they are gone from the ring then."""
        count = self.head - self.tail
        if count > most:
            count = most
            if self._first(self.tail + count) >= 0xC0:
                count -= 1  # a slot and its continuation stay together
        ranges = hands.range_milliohm
        out = bytearray(HEADER_BYTES + count * SLOT_BYTES + 4)
        struct.pack_into(
            HEADER,
            out,
            0,
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
        first = self.tail % self.slots
        run = count if first + count <= self.slots else self.slots - first
        view = memoryview(self.data)
        middle = HEADER_BYTES + run * SLOT_BYTES
        out[HEADER_BYTES:middle] = view[first * SLOT_BYTES : (first + run) * SLOT_BYTES]
        out[middle:-4] = view[: (count - run) * SLOT_BYTES]
        for at in range(HEADER_BYTES, HEADER_BYTES + count * SLOT_BYTES, SLOT_BYTES):
            high = out[at + 1]
            if high < 0x80:
                word = out[at] | high << 8
                self.tail_ms = (self.tail_ms + (word >> 3 & 127) * hands.bucket_ms) & 0x3FFFFFFF
            elif high == 0x80 | TIME:
                self.tail_ms = struct.unpack_from("<I", out, at + 2)[0]
        crc = binascii.crc32(memoryview(out)[:-4]) & 0xFFFFFFFF
        struct.pack_into("<I", out, len(out) - 4, crc)
        self.tail += count
        return out

    def clear(self, now_ms):
        """Forget what waits; the record begins at ``now_ms``."""
        self.tail = self.head
        self.tail_ms = now_ms
        self.next_ms = -1
