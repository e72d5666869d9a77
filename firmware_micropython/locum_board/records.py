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
from array import array

from . import ticks

SLOT_BYTES = 12
FORMAT = 1
HEADER = "<2sBBIIIIIIIIHh"
HEADER_BYTES = 40
RESERVE = 64
MAX_SPAN = 100

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
