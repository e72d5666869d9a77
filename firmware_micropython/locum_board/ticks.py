"""Board time: milliseconds that wrap at 2**30 (12.4 days), as MicroPython's own counter does.

Differences are right as long as the two times are less than 6.2 days apart; no dwell is longer
than a minute and something is always recorded each second, so that never comes near.
"""

WRAP = 1 << 30
HALF = 1 << 29


def after(now_ms, later_ms):
    """Milliseconds from ``now_ms`` until ``later_ms``; negative when it is past."""
    return ((later_ms - now_ms + HALF) & (WRAP - 1)) - HALF


def plus(now_ms, more_ms):
    """The tick ``more_ms`` after ``now_ms``."""
    return (now_ms + more_ms) & (WRAP - 1)


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
