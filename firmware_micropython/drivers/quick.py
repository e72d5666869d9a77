"""The engine's smallest functions once more, in machine code; they are called many times a beat.

They answer as the engine's own do; a test compares them under MicroPython. ``install`` puts them in
their place before a player is made. Only for boards: they trust their arguments.
"""
# ruff: noqa: F821  (ptr8, ptr16, ptr32 are words of the compiler)

import micropython

from locum_board import chips, playing, records, sampling, steps, ticks, walking


@micropython.viper
def after(now_ms: int, later_ms: int) -> int:
    apart = (later_ms - now_ms) & 0x3FFFFFFF
    if apart & 0x20000000:
        apart -= 0x20000000
        apart -= 0x20000000  # twice: the sum is no small integer on the board
    return apart


@micropython.viper
def plus(now_ms: int, more_ms: int) -> int:
    return (now_ms + more_ms) & 0x3FFFFFFF


@micropython.viper
def scaled(value: int, factor: int, divisor: int) -> int:
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
    if quotient > 0x3FFFFFFF:
        return 0x3FFFFFFF
    return quotient


@micropython.viper
def u16(buffer, at: int) -> int:
    data = ptr8(buffer)
    return data[at] | data[at + 1] << 8


@micropython.viper
def u30(buffer, at: int) -> int:
    data = ptr8(buffer)
    return data[at] | data[at + 1] << 8 | data[at + 2] << 16 | (data[at + 3] & 0x3F) << 24


@micropython.viper
def put(buffer, at: int, w0: int, w1: int, w2: int, w3: int):
    data = ptr16(buffer)
    at >>= 1
    data[at] = w0
    data[at + 1] = w1
    data[at + 2] = w2
    data[at + 3] = w3


@micropython.viper
def gather(sums, node: int, ohm: int):
    of = ptr32(sums)
    if not of[0]:
        of[1] = node
        of[2] = 0
        of[3] = node
        of[4] = ohm
        of[5] = 0
        of[6] = ohm
    if node < of[1]:
        of[1] = node
    if node > of[3]:
        of[3] = node
    if ohm < of[4]:
        of[4] = ohm
    if ohm > of[6]:
        of[6] = ohm
    of[2] += node
    of[5] += ohm
    of[0] += 1


@micropython.viper
def lay(words, want, place, codes, tcon, count: int) -> int:
    out = ptr32(words)
    wanted = ptr16(want)
    places = ptr16(place)
    known = ptr16(codes)
    terminals = ptr16(tcon)
    total = 0
    early = 0
    rank = 0
    while rank < 4:
        if rank == 2:
            early = total
        index = 0
        while index < count:
            word = int(wanted[index])
            goal = 0x8000
            if not word & 0x8000:
                goal = word & 0x1FF
            if (word >> 9) & 3 == rank and goal != int(places[index]):
                places[index] = goal
                chip = index >> 1
                side = index & 1
                mask = 0x03 << (side << 2)
                before = int(terminals[chip])
                after = before
                if not after:
                    after = 0x1CC
                after |= mask
                if goal == 0x8000:
                    after ^= mask
                elif goal != int(known[index]):
                    known[index] = goal
                    out[total] = chip << 16 | side << 12 | goal
                    total += 1
                if after != before:
                    terminals[chip] = after
                    out[total] = chip << 16 | 0x4000 | after
                    total += 1
            index += 1
        rank += 1
    return early << 8 | total


@micropython.viper
def take_words(buffer, at: int, into):
    data = ptr8(buffer)
    out = ptr16(into)
    index = 0
    while index < 7:
        out[index] = data[at] | data[at + 1] << 8
        at += 2
        index += 1


def install():
    """Put them in their place, wherever the engine's own are held."""
    ticks.after = after
    ticks.plus = plus
    ticks.scaled = scaled
    steps.u16 = playing.u16 = walking.u16 = u16
    steps.u30 = playing.u30 = walking.u30 = u30
    records.put = put
    sampling.gather = gather
    chips.lay = lay
    playing.take_words = take_words
