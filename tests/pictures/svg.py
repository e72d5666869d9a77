"""A screen as SVG: what stands in every cell, in the colours it has, and nothing from anywhere else.

Text is set with the reader's own monospaced font and stretched to its cells, so that columns stay
columns in any font. Blocks and rules are drawn as shapes: fonts leave gaps between them.
"""

from __future__ import annotations

from html import escape

from rich.segment import Segment
from rich.style import Style

WIDE, HIGH = 9.0, 19.0
"""One cell. [px]"""
BASE = 14.0
"""From the top of a cell to the foot of its letters. [px]"""
EDGE = 8.0
BLOCKS = {"\u2580": (0.0, 0.5), "\u2584": (0.5, 1.0), "\u2588": (0.0, 1.0)}
"""Upper and lower end of a block within its cell."""
RULE = "\u2500"
TEXT, PAPER = "#c0a080", "#0a0806"
FONT = "ui-monospace, 'DejaVu Sans Mono', Menlo, Consolas, monospace"


def colours(style: Style | None) -> tuple[str, str]:
    """Colour of the text and of its ground."""
    fore = TEXT if style is None or style.color is None else style.color.get_truecolor().hex
    back = PAPER if style is None or style.bgcolor is None else style.bgcolor.get_truecolor().hex
    return (back, fore) if style is not None and style.reverse else (fore, back)


def picture(lines: list[list[Segment]], columns: int, title: str) -> str:
    """The SVG of a screen.

    Parameters
    ----------
    lines : list of lists of Segment
        What the compositor drew, one list a row.
    columns : int
        Cells of a row.
    title : str
        What the picture shows, for whoever cannot see it.
    """
    width, height = columns * WIDE + 2 * EDGE, len(lines) * HIGH + 2 * EDGE
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img" '
        f'aria-label="{escape(title)}" font-family="{FONT}" font-size="15">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{width:g}" height="{height:g}" rx="6" fill="{PAPER}"/>',
        f'<g transform="translate({EDGE:g} {EDGE:g})">',
    ]
    for row, segments in enumerate(lines):
        parts += _row(segments, row * HIGH)
    return "\n".join([*parts, "</g>", "</svg>", ""])


def _row(segments: list[Segment], y: float) -> list[str]:
    grounds, texts, cell = [], [], 0
    for segment in Segment.simplify(segments):
        fore, back = colours(segment.style)
        cells = segment.cell_length
        if back != PAPER and cells:
            grounds.append(_rect(cell, cells, y, y + HIGH, back))
        texts += _text(segment, cell, y, fore)
        cell += cells
    return grounds + texts


def _rect(cell: float, cells: float, top: float, foot: float, colour: str) -> str:
    # A hair wider, so that no seam shows between neighbours.
    return (
        f'<rect x="{cell * WIDE:g}" y="{top:g}" width="{cells * WIDE + 0.3:g}" '
        f'height="{foot - top + 0.3:g}" fill="{colour}"/>'
    )


def _text(segment: Segment, cell: int, y: float, colour: str) -> list[str]:
    """Shapes for blocks and rules, text for every run between them."""
    made, run = [], ""
    style = segment.style
    for character in segment.text + "\0":
        if character in BLOCKS or character == RULE or character == "\0":
            made += _run(run, cell - len(run), y, colour, style)
            run = ""
            if character in BLOCKS:
                top, foot = BLOCKS[character]
                made.append(_rect(cell, 1, y + top * HIGH, y + foot * HIGH, colour))
            elif character == RULE:
                made.append(_rect(cell, 1, y + HIGH / 2 - 0.7, y + HIGH / 2 + 0.7, colour))
        else:
            run += character
        cell += 1
    return made


def _run(text: str, cell: int, y: float, colour: str, style: Style | None) -> list[str]:
    bare = text.lstrip(" ")
    cell += len(text) - len(bare)
    bare = bare.rstrip(" ")
    if not bare:
        return []
    weight = ' font-weight="bold"' if style is not None and style.bold else ""
    line = ' text-decoration="underline"' if style is not None and style.underline else ""
    return [
        f'<text x="{cell * WIDE:g}" y="{y + BASE:g}" textLength="{len(bare) * WIDE:g}" '
        f'xml:space="preserve" fill="{colour}"{weight}{line}>{escape(bare)}</text>'
    ]


def text_of(lines: list[list[Segment]]) -> str:
    """The same screen as text."""
    rows = ("".join(segment.text for segment in segments).rstrip() for segments in lines)
    return "\n".join(rows) + "\n"
