"""A block's schematic: each chip a box with the net beside every leg, the two-legged parts chains
from net to net. Equal names are joined.
"""

from __future__ import annotations

import schemdraw
import schemdraw.elements as elm
from circuit.model import NC, Circuit, Part, Pin

from .sheet import (
    BELOW,
    NET_COLOR,
    RAILS,
    Point,
    box,
    heading,
    line,
    net_name,
    new_sheet,
    svg_of,
    word,
    word_beside,
)

SYMBOLS = {
    "R": elm.Resistor, "C": elm.Capacitor, "F": elm.Fuse, "TH": elm.Thermistor, "S": elm.Switch,
    "D": elm.Diode,
}  # fmt: skip
SYMBOLS_OF_MODELS = {"tvs": elm.DiodeTVS, "zener": elm.Zener, "schottky": elm.Schottky}

STEP_X, STEP_Y, CHAIN_LENGTH = 4.2, 1.75, 4
WIRE_X = 0.9
"""Of each step of a chain, what lies between two parts."""
BETWEEN_CHAINS_X = 2.6
PAGE_X = 24.0
BOX_FIRST_X, BOX_STEP_X, BOX_LAST_X = 2.6, 8.4, 20
BOX_WIDTH, LEG_PITCH, LEG_LENGTH = 3.4, 0.62, 0.5
BOX_BELOW_Y = 0.6
"""From where a box was asked for down to its upper edge: its title stands there."""
LONGEST_VALUE = 26

Link = tuple[Part, str, str]
"""A part of a chain with the nets at its left and its right."""


def block_svg(circuit: Circuit, block: str) -> str:
    """The schematic of one block."""
    sheet = new_sheet()
    heading(sheet, 1.3, f"{circuit.title}: {block}")
    parts = circuit.of_block(block)
    lowest = _draw_chains(sheet, chains([part for part in parts if _is_two_legged(part)]))
    boxed = [part for part in parts if not _is_two_legged(part)]
    _draw_boxes(sheet, boxed, lowest - STEP_Y - 0.4)
    return svg_of(sheet)


def _is_two_legged(part: Part) -> bool:
    return len(part.kind.pins) == 2 and part.kind.prefix in SYMBOLS


# Chains ----------------------------------------------------------------------------------------


def chains(parts: list[Part]) -> list[list[Link]]:
    """Two-legged parts strung together: (part, net at its left, net at its right).

    A chain ends at a rail, where no part is left, or after four parts.
    """
    left = list(parts)
    found = []
    while left:
        ends: dict[str, int] = {}
        for part in left:
            for net in set(part.nets.values()):
                ends[net] = ends.get(net, 0) + 1
        # begin where a lead or a rail enters, so that signals read from left to right
        start = min(left, key=lambda p: min(_rank(n, ends[n]) for n in p.nets.values()))
        net = min(start.nets.values(), key=lambda n: _rank(n, ends[n]))
        chain = []
        part: Part | None = start
        while part is not None and len(chain) < CHAIN_LENGTH:
            far = part.other_net(net)
            chain.append((part, net, far))
            left.remove(part)
            net = far
            part = None if net in RAILS else next((p for p in left if net in p.nets.values()), None)
        found.append(chain)
    return found


def _rank(net: str, count: int) -> tuple[int, int]:
    """How late a net comes as the beginning of a chain: leads, rails, inner nets, ground."""
    return (3 if net == "GND" else 1 if net in RAILS else 0 if count == 1 else 2, count)


def _draw_chains(sheet: schemdraw.Drawing, found: list[list[Link]]) -> float:
    """Draw chains row by row; the height of the last row."""
    x = y = 0.0
    for chain in found:
        wide = len(chain) * STEP_X + BETWEEN_CHAINS_X
        if x + wide > PAGE_X and x > 0:
            x, y = 0.0, y - STEP_Y
        _draw_chain(sheet, chain, x, y)
        x += wide
    return y


def _draw_chain(sheet: schemdraw.Drawing, chain: list[Link], x: float, y: float) -> None:
    _net_at_end(sheet, (x, y), chain[0][1], "right")
    for at, (part, left, right) in enumerate(chain):
        start = (x + at * STEP_X, y)
        end = (x + at * STEP_X + STEP_X - WIRE_X, y)
        assert set(part.nets.values()) == {left, right}
        _draw_symbol(sheet, part, left, start, end)
        if at == len(chain) - 1:
            _net_at_end(sheet, end, right, "left")
        else:
            wire = elm.Line().at(end).to((end[0] + WIRE_X, y))
            sheet.add(wire.label(right, loc="bottom", fontsize=9, color=NET_COLOR))


def _draw_symbol(sheet: schemdraw.Drawing, part: Part, left: str, start: Point, end: Point) -> None:
    # diodes and zeners list cathode first: draw them from anode to cathode
    anode_left = "K" not in part.nets or part.nets.get("A") == left
    first, second = (start, end) if anode_left else (end, start)
    value = "" if part.value in part.kind.title and part.kind.prefix == "S" else part.value
    symbol = _symbol(part)().at(first).to(second)
    side = "top" if anode_left else "bottom"
    sheet.add(symbol.label(f"{part.ref}  {value}", loc=side, ofst=0.12))


def _symbol(part: Part):
    if part.kind.name == "led":
        return elm.LED
    return SYMBOLS_OF_MODELS.get(part.kind.model, SYMBOLS[part.kind.prefix])


def _net_at_end(sheet: schemdraw.Drawing, at: Point, net: str, side: str) -> None:
    """An open dot at the end of a chain, the net's name beyond it."""
    sheet.add(elm.Dot(open=True).at(at))
    shift = -0.25 if side == "right" else 0.25
    word_beside(sheet, (at[0] + shift, at[1]), net, halign=side, color=NET_COLOR, fontsize=11)


# Boxes -----------------------------------------------------------------------------------------


def _draw_boxes(sheet: schemdraw.Drawing, parts: list[Part], top: float) -> None:
    x, y, lowest = BOX_FIRST_X, top, top
    for part in parts:
        lowest = min(lowest, y - _draw_box(sheet, part, x, y))
        x += BOX_STEP_X
        if x > BOX_LAST_X:
            x, y = BOX_FIRST_X, lowest - 1.6


def _draw_box(sheet: schemdraw.Drawing, part: Part, left: float, y: float) -> float:
    """A chip, relay, transistor or plug: a box, legs with number and name, nets outside; its height.

    Legs are counted down the left side and up the right one, as on the part.
    """
    legs = part.kind.pins
    on_left = (len(legs) + 1) // 2
    height = on_left * LEG_PITCH + 0.3
    top = y - BOX_BELOW_Y
    box(sheet, (left, top), BOX_WIDTH, height)
    title = part.value if len(part.value) < LONGEST_VALUE else part.kind.title
    middle = (left + BOX_WIDTH / 2, top + BELOW)
    word(sheet, middle, f"{part.ref}  {title}", halign="center", fontsize=11)
    for at, leg in enumerate(legs):
        row = at if at < on_left else len(legs) - 1 - at
        level = top - 0.4 - row * LEG_PITCH
        _draw_leg(sheet, leg, part.nets[leg.name], left, level, on_left=at < on_left)
    return height + BOX_BELOW_Y


def _draw_leg(
    sheet: schemdraw.Drawing, leg: Pin, net: str, left: float, level: float, on_left: bool
) -> None:
    """A leg of a box: its number and name inside, its net outside."""
    edge = left if on_left else left + BOX_WIDTH
    out = edge + (-LEG_LENGTH if on_left else LEG_LENGTH)
    shift = 0.12 if on_left else -0.12
    inside, outside = ("left", "right") if on_left else ("right", "left")
    line(sheet, (edge, level), (out, level))
    text = f"{leg.number} {leg.name}" if on_left else f"{leg.name} {leg.number}"
    if leg.name == leg.number:
        text = leg.name
    word_beside(sheet, (edge + shift, level), text, halign=inside, fontsize=9)
    color = "gray" if net == NC else NET_COLOR
    word_beside(
        sheet, (out - shift, level), net_name(net, "open"), halign=outside, fontsize=10, color=color
    )
