"""A sensor's curve as a sketch: ohms upwards on a logarithmic scale, temperature to the right, its band.

Drawn in dots of whatever glyph set the terminal can show: 2 x 4 a cell with braille, 1 x 2 with half
blocks, one with ASCII. The figures themselves stand in the rows above it; this only shows the shape, and a
reading that does not belong to it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from textual.widgets import Static

from locum.ui import words
from locum.ui.looks.glyphs import GlyphSet
from locum.ui.looks.looks import looks_of

COLUMNS, ROWS = 30, 10
MARGIN = 12
"""Cells for the ohms at the left."""
BESIDE = 72
"""Cells of the rows of figures, which say the same; the sketch stands beside them or not at all."""
Point = tuple[float, float, float | None]
"""Temperature, ohms, and how well the temperature is known there. [degC, ohm, K]"""


class Dots:
    """A field of dots, gathered into cells."""

    def __init__(self, glyphs: GlyphSet, columns: int, rows: int) -> None:
        self.glyphs, self.columns, self.rows = glyphs, columns, rows
        self.across, self.down = columns * glyphs.across, rows * glyphs.down
        self._patterns: dict[tuple[int, int], int] = {}

    def put(self, x: float, y: float) -> None:
        """A dot at 0..1 from the left and 0..1 from below; nothing beyond the field."""
        across, down = round(x * (self.across - 1)), round((1 - y) * (self.down - 1))
        if 0 <= across < self.across and 0 <= down < self.down:
            column, left = divmod(across, self.glyphs.across)
            row, top = divmod(down, self.glyphs.down)
            bit = 1 << (top * self.glyphs.across + left)
            self._patterns[row, column] = self._patterns.get((row, column), 0) | bit

    def stroke(self, one: tuple[float, float], other: tuple[float, float]) -> None:
        """A straight stroke without gaps."""
        steps = max(abs(other[0] - one[0]) * self.across, abs(other[1] - one[1]) * self.down, 1)
        for n in range(math.ceil(steps) + 1):
            share = n / math.ceil(steps)
            self.put(one[0] + share * (other[0] - one[0]), one[1] + share * (other[1] - one[1]))

    def lines(self) -> list[str]:
        return [
            "".join(self.glyphs.dots[self._patterns.get((row, c), 0)] for c in range(self.columns))
            for row in range(self.rows)
        ]


def sketch(
    points: Sequence[Point], glyphs: GlyphSet, unit: str = "celsius",
    columns: int = COLUMNS, rows: int = ROWS,
) -> list[str]:  # fmt: skip
    """Rows of text with the curve through these points, between its own ends.

    Empty with fewer than two points.
    """
    if len(points) < 2:
        return []
    cold, hot = points[0][0], points[-1][0]
    few, many = (math.log(f(p[1] for p in points)) for f in (min, max))

    def at(celsius: float, ohm: float) -> tuple[float, float]:
        return (celsius - cold) / (hot - cold), (math.log(ohm) - few) / ((many - few) or 1.0)

    dots = Dots(glyphs, columns, rows)
    for edge in (-1, 0, 1):
        line = list(_shifted(points, edge))
        for one, other in zip(line, line[1:], strict=False):
            dots.stroke(at(*one), at(*other))
    ends = {0: words.ohms(math.exp(many)), rows - 1: words.ohms(math.exp(few))}
    drawn = [f"{ends.get(n, ''):>{MARGIN - 2}}  {line}" for n, line in enumerate(dots.lines())]
    left, right = words.degrees(cold, unit, 0), words.degrees(hot, unit, 0)
    return [*drawn, " " * MARGIN + left + right.rjust(columns - len(left))]


def _shifted(points: Iterable[Point], edge: int) -> Iterator[tuple[float, float]]:
    """The curve, or an edge of its band: by how well the temperature is known there."""
    for celsius, ohm, within_k in points:
        if edge == 0 or within_k:
            yield celsius + edge * (within_k or 0.0), ohm


class Sketch(Static):
    """The sketch of the sensor last looked at; absent where there is no room for it."""

    def __init__(self, unit: str = "celsius", **kwargs) -> None:
        super().__init__("", markup=False, **kwargs)
        self.unit = unit
        self._points: tuple[Point, ...] = ()

    def show(self, points: Sequence[Point]) -> None:
        """Draw these points, or nothing where there are none."""
        self._points = tuple(points)
        self._draw()

    def on_mount(self) -> None:
        self._draw()

    def on_resize(self) -> None:
        self._draw()

    def _draw(self) -> None:
        roomy = self.app.size.width >= BESIDE + MARGIN + COLUMNS + 2
        rows = sketch(self._points, looks_of(self.app).glyphs, self.unit) if roomy else []
        text = "\n".join(rows)
        if str(self.content) != text:
            self.update(text)
        self.display = bool(rows)
