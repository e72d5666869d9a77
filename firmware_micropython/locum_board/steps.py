"""A plan on the wire and in memory: a header, steps of seven words, a CRC-32.

A step, ``<7H``, 14 bytes:

    word  meaning
    ====  =====================================================================
    0     dt: milliseconds until the next step, 1..60000
    1-4   wipers P1..P4: bits 0-8 code 0..256, 9-10 write rank 0..3, 15 out
    5     node voltage expected, in 0.5 mV; 0xFFFF = not known, not checked
    6     flags: bits 0-1 hot branches, 2-3 contact (0 through, 1 open, 2 short),
          4 follow the real sensor (wiper words ignored), 5-7 tolerance class,
          15 repeat control

A repeat control takes no time: word 1 = steps to go back (they must be timed steps of the same
block), word 2 = how many times more (65535 = until told otherwise), all else but the flag 0.
The write rank is the order in which wipers are moved at the step *into* this state.

A block, little endian:

    bytes  field
    =====  ====================================================================
    2      b"LP"
    1      format, 1
    1      flags: 1 run on when the host is silent, 2 ease back at the end,
           4 continues the plan already on board (append)
    2      steps in this block, 1..2000
    2      part number, 0 for the first
    4      plan id: the same in all parts of a plan
    4      index of this block's first step in the whole plan
    4      steps in the whole plan
    4      longest time away from the real sensor [s], 1..14400
    4      network id the codes were chosen for; 0 = not stated
    14 n   steps
    4      CRC-32 of everything before
"""

import binascii
import struct

MAX_STEPS = 2000
STEP_BYTES = 14
FORMAT = 1
HEADER = "<2sBBHHIIIII"
HEADER_BYTES = 28
BLOCK_BYTES = HEADER_BYTES + MAX_STEPS * STEP_BYTES + 4
MAX_DT_MS = 60000
MAX_STANDING_S = 14400

OUT = 0x8000
CODE_MASK = 0x1FF
RANK_SHIFT = 9
MAX_CODE = 256

HOT_MASK = 0x3
CONTACT_SHIFT = 2
FOLLOW = 0x10
TOLERANCE_SHIFT = 5
REPEAT = 0x8000
ENDLESS = 65535
NODE_UNKNOWN = 0xFFFF

THROUGH, OPEN, SHORT = 0, 1, 2

RUN_ON_SILENCE = 1
EASE_BACK_AT_END = 2
APPENDED = 4

# Tolerance class 0 is "not checked"; class n allows 10 mV * 2**(n-1), in the step's 0.5 mV.
TOLERANCE_HALF_MV = (0, 20, 40, 80, 160, 320, 640, 1280)


def u16(buffer, at):
    """Two bytes, little endian, without an allocation."""
    return buffer[at] | buffer[at + 1] << 8


def u30(buffer, at):
    """Four bytes, little endian, the two top bits left out: small on every interpreter."""
    return buffer[at] | buffer[at + 1] << 8 | buffer[at + 2] << 16 | (buffer[at + 3] & 0x3F) << 24


def take_words(buffer, at, into):
    """The seven words of a step at byte ``at``, into an array of them."""
    index = 0
    while index < 7:
        into[index] = buffer[at] | buffer[at + 1] << 8
        at += 2
        index += 1


def wiper_word(code, out=False, rank=0):
    """One wiper's word. Raises ValueError outside 0..256 and rank 0..3."""
    if not 0 <= code <= MAX_CODE or not 0 <= rank <= 3:
        raise ValueError("wiper code 0..256 and rank 0..3 wanted, found %d, %d" % (code, rank))
    return code | rank << RANK_SHIFT | (OUT if out else 0)


def step_flags(hot=0, contact=THROUGH, follow=False, tolerance=0):
    """The flag word of a timed step."""
    if not 0 <= hot <= 3 or not 0 <= contact <= 2 or not 0 <= tolerance <= 7:
        raise ValueError("hot 0..3, contact 0..2, tolerance 0..7 wanted")
    return hot | contact << CONTACT_SHIFT | (FOLLOW if follow else 0) | tolerance << TOLERANCE_SHIFT


def pack_step(dt_ms, wipers, node_half_mv=NODE_UNKNOWN, flags=0):
    """One timed step as 14 bytes; ``wipers`` are four words of :func:`wiper_word`."""
    fault = step_fault(dt_ms, wipers[0], wipers[1], wipers[2], wipers[3], node_half_mv, flags)
    if fault:
        raise ValueError(fault)
    return struct.pack(
        "<7H", dt_ms, wipers[0], wipers[1], wipers[2], wipers[3], node_half_mv, flags
    )


def pack_repeat(steps_back, times):
    """A repeat control: go back ``steps_back`` steps, ``times`` times more (ENDLESS: for ever)."""
    if not 1 <= steps_back < MAX_STEPS or not 1 <= times <= ENDLESS:
        raise ValueError("repeat of 1..1999 steps, 1..65535 times wanted")
    return struct.pack("<7H", 0, steps_back, times, 0, 0, 0, REPEAT)


def unpack_steps(rows):
    """List of 7-tuples from packed steps."""
    return [struct.unpack_from("<7H", rows, at) for at in range(0, len(rows), STEP_BYTES)]


def step_fault(dt_ms, w0, w1, w2, w3, node, flags):
    """What is wrong with a timed step, or None. Checks ranges only; struct would wrap silently."""
    if not 1 <= dt_ms <= MAX_DT_MS:
        return "dt 1..60000 ms wanted"
    most = max(w0 & CODE_MASK, w1 & CODE_MASK, w2 & CODE_MASK, w3 & CODE_MASK)
    if most > MAX_CODE or (w0 | w1 | w2 | w3) & ~0x87FF:  # out, rank and code are all there is
        return "wiper word out of range"
    if not 0 <= node <= 0xFFFF:
        return "node out of range"
    if not 0 <= flags <= 0xFF or (flags >> CONTACT_SHIFT) & 3 > 2:
        return "flags out of range"
    return None


def plan_block(
    rows,
    *,
    plan_id=0,
    flags=EASE_BACK_AT_END,
    part=0,
    first_step=0,
    total_steps=None,
    standing_s=1200,
    network_id=0,
):
    """A plan's block from packed steps (``bytes``, 14 each; a numpy uint16 [n, 7] array's tobytes()).

    Raises ValueError if a number is outside its range; the steps themselves are checked by the
    board (and by :func:`block_fault`, which is the same code).
    """
    count = len(rows) // STEP_BYTES
    total = count if total_steps is None else total_steps
    if len(rows) != count * STEP_BYTES or not 1 <= count <= MAX_STEPS:
        raise ValueError("1..2000 steps of 14 bytes wanted, found %d bytes" % len(rows))
    if not 1 <= standing_s <= MAX_STANDING_S:
        raise ValueError("longest time away 1..14400 s wanted, found %d" % standing_s)
    head = struct.pack(
        HEADER, b"LP", FORMAT, flags, count, part, plan_id & 0xFFFFFFFF, first_step, total,
        standing_s, network_id & 0xFFFFFFFF,
    )  # fmt: skip
    body = head + bytes(rows)
    return body + struct.pack("<I", binascii.crc32(body) & 0xFFFFFFFF)


def crc_is_good(block, length):
    """The last four of ``length`` bytes are the CRC-32 of those before."""
    found = binascii.crc32(memoryview(block)[: length - 4]) & 0xFFFFFFFF
    return found == struct.unpack_from("<I", block, length - 4)[0]


def block_fault(block, length):
    """What is wrong with a received block of ``length`` bytes in the buffer ``block``, or None.

    The answers are ``"crc"``, ``"format"``, ``"length"`` or ``"step N: ..."``.
    """
    if length < HEADER_BYTES + STEP_BYTES + 4 or length > BLOCK_BYTES:
        return "length"
    view = memoryview(block)
    if (
        binascii.crc32(view[: length - 4]) & 0xFFFFFFFF
        != struct.unpack_from("<I", block, length - 4)[0]
    ):
        return "crc"
    magic, form, flags, count, part, plan, first, total, standing, network = struct.unpack_from(
        HEADER, block, 0
    )
    if magic != b"LP" or form != FORMAT or flags > 7:
        return "format"
    if count * STEP_BYTES + HEADER_BYTES + 4 != length or first + count > total:
        return "length"
    if total >= 1 << 29:
        return "length"
    if not 1 <= standing <= MAX_STANDING_S:
        return "standing time"
    return _steps_fault(block, count)


def _steps_fault(block, count):
    """Word by word: a tuple a step would have the heap swept every hundred steps."""
    last_control = -1
    at = HEADER_BYTES
    for index in range(count):
        dt = u16(block, at)
        w0 = u16(block, at + 2)
        w1 = u16(block, at + 4)
        bits = u16(block, at + 12)
        if bits & REPEAT:
            # Loops may not be nested or reach before the block: one counter, no surprise.
            if w0 < 1 or w1 < 1 or index - w0 <= last_control or dt or bits != REPEAT:
                return "step %d: repeat" % index
            last_control = index
        else:
            fault = step_fault(
                dt, w0, w1, u16(block, at + 6), u16(block, at + 8), u16(block, at + 10), bits
            )
            if fault:
                return "step %d: %s" % (index, fault)
        at += STEP_BYTES
    return None
