"""Board time: milliseconds that wrap at 2**30 (12.4 days), as MicroPython's own counter does.

Differences are right as long as the two times are less than 6.2 days apart; no dwell is longer
than a minute and something is always recorded each second, so that never comes near.
"""

WRAP = 1 << 30
# What is worked with on the board: WRAP itself is one more than its integers hold without the heap,
# and so is WRAP - 1 on its way, since it is computed from WRAP.
MASK = 0x3FFFFFFF
HALF = 0x20000000


def after(now_ms, later_ms):
    """Milliseconds from ``now_ms`` until ``later_ms``; negative when it is past."""
    apart = (later_ms - now_ms) & MASK
    return apart if apart < HALF else apart - HALF - HALF


def plus(now_ms, more_ms):
    """The tick ``more_ms`` after ``now_ms``."""
    # half a turn is taken off and put back by its one bit, so that no sum reaches 2**30
    return ((now_ms - HALF + more_ms) & MASK) ^ HALF


def scaled(value, factor, divisor):
    """``value * factor // divisor`` without a number of 2**30 or more on the way.

    ``value`` below 2**29, ``factor`` below 2**16, ``divisor`` below 2**28. A result that would
    reach 2**30 - 1 is answered as that. Big integers live on MicroPython's heap, and the player
    may not allocate.
    """
    quotient = 0
    rest = 0
    bit = 1 << 15
    while bit:
        if quotient >= 0x1FFFFFFF:
            return 0x3FFFFFFF
        quotient += quotient
        rest += rest
        if factor & bit:
            rest += value
        if rest >= divisor:
            quotient += rest // divisor
            rest %= divisor
        bit >>= 1
    return quotient if quotient < 0x3FFFFFFF else 0x3FFFFFFF
