"""The ladder: up to 512 settings of the network in order of resistance.

The board knows no temperature. The ladder lets it walk from any value to the real sensor's
measured ohms: the way home, following, and resistance by hand. Made by the host from the
calibration, sent as one block; a rung, ``<I7H``, 18 bytes:

    field  meaning
    =====  ====================================================================
    u32    milliohm, rising from rung to rung, below 2**30
    u16    weight: cost of the move from the rung before, in rate units; the host
           that knows the curve makes a unit a millikelvin. 0 in the first rung
    4 u16  wiper words as in a step
    u16    node expected, 0.5 mV; 0xFFFF = not known
    u16    flags: bits 0-1 hot branches, 5-7 tolerance class

Rates are units per second: following 300 (0.3 K/s), returning 1000 (1 K/s).

A block: b"LL", u8 format 1, u8 0, u16 rungs, u16 0, u32 network id, rungs, CRC-32.
"""

import binascii
import struct

MAX_RUNGS = 512
RUNG_BYTES = 18
RUNG = "<I7H"
FORMAT = 1
HEADER = "<2sBBHHI"
HEADER_BYTES = 12
BLOCK_BYTES = HEADER_BYTES + MAX_RUNGS * RUNG_BYTES + 4
MILLIOHM_LIMIT = 1 << 29


def default_weight(before_milliohm, milliohm):
    """Rate units between two rungs when no curve is known: 1 unit per 0.03 permille of ohms.

    An NTC at 90 degC moves about 30 permille a kelvin and more when colder, so that a unit is a
    millikelvin at the hot end and less elsewhere: never faster than the rate says.
    """
    return min(65535, max(1, (milliohm - before_milliohm) * 33334 // max(1, before_milliohm)))


def pack_rung(milliohm, weight, wipers, node_half_mv=0xFFFF, flags=0):
    """One rung as 18 bytes. Raises ValueError outside the ranges above."""
    if not 1 <= milliohm < MILLIOHM_LIMIT or not 0 <= weight <= 65535:
        raise ValueError("milliohm 1..2**29-1 and weight 0..65535 wanted")
    return struct.pack(
        RUNG, milliohm, weight, wipers[0], wipers[1], wipers[2], wipers[3], node_half_mv, flags
    )


def ladder_block(rungs, network_id=0):
    """Block from packed rungs (``bytes``), which must rise in milliohm."""
    count = len(rungs) // RUNG_BYTES
    if len(rungs) != count * RUNG_BYTES or not 2 <= count <= MAX_RUNGS:
        raise ValueError("2..512 rungs of 18 bytes wanted, found %d bytes" % len(rungs))
    body = struct.pack(HEADER, b"LL", FORMAT, 0, count, 0, network_id & 0xFFFFFFFF) + bytes(rungs)
    return body + struct.pack("<I", binascii.crc32(body) & 0xFFFFFFFF)


def block_fault(block, length):
    """What is wrong with a received ladder, or None: "crc", "format", "length", "rung N"."""
    if length < HEADER_BYTES + 2 * RUNG_BYTES + 4 or length > BLOCK_BYTES:
        return "length"
    view = memoryview(block)
    if (
        binascii.crc32(view[: length - 4]) & 0xFFFFFFFF
        != struct.unpack_from("<I", block, length - 4)[0]
    ):
        return "crc"
    magic, form, zero, count, spare, network = struct.unpack_from(HEADER, block, 0)
    if magic != b"LL" or form != FORMAT:
        return "format"
    if count * RUNG_BYTES + HEADER_BYTES + 4 != length:
        return "length"
    before = 0
    for index in range(count):
        milliohm, weight, w0, w1, w2, w3, node, flags = struct.unpack_from(
            RUNG, block, HEADER_BYTES + index * RUNG_BYTES
        )
        if not before < milliohm < MILLIOHM_LIMIT or flags & 0xFF1C:
            return "rung %d" % index
        for word in (w0, w1, w2, w3):
            if word & 0x1FF > 256 or word & 0x7800:
                return "rung %d" % index
        before = milliohm
    return None
