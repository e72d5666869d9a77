"""Letters that can be read at arm's length: a face of our own, five dots high, drawn in two or three rows.

Every letter stands as dots on a small grid; two dots share a cell where half blocks are safe, so a word
is three rows high, and five in ASCII. Small letters are drawn as capitals.
"""

from __future__ import annotations

from functools import lru_cache

from locum.ui.looks.glyphs import GlyphSet

HIGH = 5
"""Dots from top to bottom."""
FACE = {
    "A": " ## /#  #/####/#  #/#  #", "B": "### /#  #/### /#  #/### ", "C": " ###/#   /#   /#   / ###",
    "D": "### /#  #/#  #/#  #/### ", "E": "####/#   /### /#   /####", "F": "####/#   /### /#   /#   ",
    "G": " ###/#   /# ##/#  #/ ###", "H": "#  #/#  #/####/#  #/#  #", "I": "#/#/#/#/#",
    "J": "  ##/   #/   #/#  #/ ## ", "K": "#  #/# # /##  /# # /#  #", "L": "#   /#   /#   /#   /####",
    "M": "#   #/## ##/# # #/#   #/#   #", "N": "#   #/##  #/# # #/#  ##/#   #",
    "O": " ## /#  #/#  #/#  #/ ## ", "P": "### /#  #/### /#   /#   ",
    "Q": " ## /#  #/#  #/# # / ###", "R": "### /#  #/### /# # /#  #",
    "S": " ###/#   / ## /   #/### ", "T": "#####/  #  /  #  /  #  /  #  ", "U": "#  #/#  #/#  #/#  #/ ## ",
    "V": "#   #/#   #/ # # / # # /  #  ", "W": "#   #/#   #/# # #/## ##/#   #",
    "X": "#   #/ # # /  #  / # # /#   #", "Y": "#   #/ # # /  #  /  #  /  #  ",
    "Z": "####/   #/ ## /#   /####",
    "0": " ## /#  #/#  #/#  #/ ## ", "1": " # /## / # / # /###", "2": "### /   #/ ## /#   /####",
    "3": "### /   #/ ## /   #/### ", "4": "#  #/#  #/####/   #/   #", "5": "####/#   /### /   #/### ",
    "6": " ## /#   /### /#  #/ ## ", "7": "####/   #/  # / #  / #  ", "8": " ## /#  #/ ## /#  #/ ## ",
    "9": " ## /#  #/ ###/   #/ ## ",
    ".": " / / / /#", ",": "  /  /  / #/# ", "-": "   /   /###/   /   ", ":": " /#/ /#/ ", " ": "  /  /  /  /  ",
    "/": "   #/  # / #  /#   /#   ", "+": "   / # /###/ # /   ", "?": "### /   #/ ## /    / #  ",
    "'": "#/#/ / / ", "(": " #/# /# /# / #", ")": "# / #/ #/ #/# ",
}  # fmt: skip


def rows_high(glyphs: GlyphSet) -> int:
    """Rows that one line of large letters takes."""
    return HIGH if glyphs.down == 1 else -(-HIGH // 2)


def known(text: str) -> bool:
    """Whether every character of it has a large letter."""
    return all(character.upper() in FACE for character in text)


@lru_cache(256)
def large(text: str, glyphs: GlyphSet) -> tuple[str, ...]:
    """The text in large letters, one string for each row, all equally long.

    A character without a large letter becomes a gap: ask :func:`known` before.
    """
    drawn = [FACE.get(character.upper(), FACE[" "]).split("/") for character in text]
    dots = [" ".join(letter[y] for letter in drawn) for y in range(HIGH)]
    if glyphs.down == 1:
        return tuple(dots)
    dots.append(" " * len(dots[0]))
    # Upper and lower dot of a cell: nothing, upper, lower, both.
    return tuple(
        "".join(" \u2580\u2584\u2588"[(a == "#") + 2 * (b == "#")] for a, b in zip(dots[y], dots[y + 1], strict=True))
        for y in range(0, HIGH + 1, 2)
    )  # fmt: skip
