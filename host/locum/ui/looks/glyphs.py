"""Glyph sets: the characters that screens may draw with, and the way down to plain ASCII.

``braille`` holds 2 x 4 dots a cell, ``half`` 1 x 2 (U+2580, U+2584, U+2588 only: the oldest consoles
have those), ``ascii`` one. Words, signs and layout are the same in all three, so nothing is lost with
a poorer set but smoothness.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from functools import lru_cache

from rich.cells import cell_len
from rich.segment import Segment
from textual.color import Color
from textual.filter import LineFilter


@dataclass(frozen=True)
class GlyphSet:
    """What may be drawn with."""

    name: str
    across: int
    """Dots of a cell from left to right."""
    down: int
    """Dots of a cell from top to bottom."""
    dots: str
    """One character for each pattern of dots, lowest bit at the top left, row by row."""


def _braille() -> str:
    # Braille numbers its dots by columns and puts the fourth row last; ours count row by row.
    order = (0x01, 0x08, 0x02, 0x10, 0x04, 0x20, 0x40, 0x80)
    return "".join(
        chr(0x2800 + sum(bit for i, bit in enumerate(order) if pattern >> i & 1))
        for pattern in range(256)
    )


BRAILLE = GlyphSet("braille", 2, 4, " " + _braille()[1:])
HALF = GlyphSet("half", 1, 2, " \u2580\u2584\u2588")
ASCII = GlyphSet("ascii", 1, 1, " *")
SETS = {s.name: s for s in (BRAILLE, HALF, ASCII)}

PLAIN = {
    **dict.fromkeys("\u2500\u2501\u2550\u2574\u2576\u257c\u257e\u2594\u2581\u2015\u2014\u2013", "-"),
    **dict.fromkeys("\u2502\u2503\u2551\u258c\u2590\u258e\u258f\u2595\u258d\u258a\u2589\u258b", "|"),
    **dict.fromkeys("\u250c\u2510\u2514\u2518\u251c\u2524\u252c\u2534\u253c\u256d\u256e\u256f\u2570", "+"),
    **dict.fromkeys("\u2588\u2580\u2584\u2599\u259b\u259c\u259f\u2596\u2597\u2598\u259d", "#"),
    **dict.fromkeys("\u2582\u2583\u2585\u2586\u2587", " "),  # ends of scroll bars
    "\u23ce": "Enter", "\u2026": "...", "\u2022": "*", "\u00b7": ".", "\u00d7": "x", "\u2192": "->",
    "\u2190": "<-", "\u2264": "<=", "\u2265": ">=", "\u00b0": " ", "\u2018": "'", "\u2019": "'",
    "\u201c": '"', "\u201d": '"', "\u03a9": "O", "\u03bc": "u", "\u00b5": "u", "\u00df": "ss",
    "\u00b1": "+-", "\u00e6": "ae", "\u00f8": "o", "\u0142": "l",
}  # fmt: skip


@lru_cache(4096)
def plain(character: str) -> str:
    """One character in as many ASCII cells as it took before, ``?`` where there is no likeness."""
    if character.isascii():
        return character
    cells = cell_len(character)
    found = PLAIN.get(character)
    if found is None:
        base = unicodedata.normalize("NFKD", character)
        found = "".join(c for c in base if c.isascii())
    return (found or "?")[:cells].ljust(cells) if cells else ""


class AsciiOnly(LineFilter):
    """Everything on its way to the terminal in plain ASCII, whoever drew it."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        if all(segment.text.isascii() for segment in segments):
            return segments
        return [
            Segment("".join(map(plain, segment.text)), segment.style, segment.control)
            for segment in segments
        ]
