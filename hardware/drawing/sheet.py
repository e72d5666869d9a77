"""The sheet that everything is drawn on, and the words, lines and boxes on it."""

from __future__ import annotations

import warnings

import schemdraw
import schemdraw.elements as elm
from circuit.model import NC

Point = tuple[float, float]

RAILS = ("GND", "3V3", "VREF", "VBUS", "VPOT")
NET_COLOR = "navy"
BELOW = 0.12
"""A word's foot lies this far below the line that it belongs to."""


def new_sheet() -> schemdraw.Drawing:
    schemdraw.use("svg")
    schemdraw.svgconfig.text = "text"
    sheet = schemdraw.Drawing(show=False)
    sheet.config(unit=2.6, fontsize=11, font="sans-serif", margin=0.4, lw=1.4, bgcolor="white")
    return sheet


def svg_of(sheet: schemdraw.Drawing) -> str:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return sheet.get_imagedata("svg").decode("utf-8").rstrip() + "\n"


def word(sheet: schemdraw.Drawing, at: Point, text: str, **style) -> None:
    """Write `text` with its foot at a point; `style` is schemdraw's, such as `halign`."""
    sheet.add(elm.Label().theta(0).at(at).label(text, **style))


def word_beside(sheet: schemdraw.Drawing, at: Point, text: str, **style) -> None:
    """Write `text` level with a line that ends at a point."""
    word(sheet, (at[0], at[1] - BELOW), text, **style)


def heading(sheet: schemdraw.Drawing, height: float, text: str) -> None:
    word(sheet, (0, height), text, halign="left", fontsize=15)


def line(sheet: schemdraw.Drawing, start: Point, end: Point) -> elm.Line:
    """A line; it can still be given a colour or a width."""
    drawn = elm.Line().at(start).to(end)
    sheet.add(drawn)
    return drawn


def box(sheet: schemdraw.Drawing, corner: Point, width: float, height: float) -> None:
    """A box whose upper left corner is given."""
    sheet.add(elm.Rect(corner1=(0, 0), corner2=(width, -height)).theta(0).at(corner))


def net_name(net: str, unconnected: str) -> str:
    return unconnected if net == NC else net
