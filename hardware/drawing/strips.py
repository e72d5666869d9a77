"""Wiring on stripboard: every net a strip, every part a column with a dot where it is soldered."""

from __future__ import annotations

import schemdraw
import schemdraw.elements as elm
from circuit.model import NC, Circuit, Part

from .sheet import NET_COLOR, RAILS, heading, line, new_sheet, svg_of, word, word_beside

COLUMN_X, ROW_Y = 0.95, 0.62
COPPER = "#c98a3a"


def strips_svg(circuit: Circuit, block: str) -> str:
    """The strips of one block.

    Number beside a dot: the leg. Chips sit in sockets across a cut and are wired leg by leg.
    """
    parts = circuit.of_block(block)
    nets = _strip_order(parts)
    sheet = new_sheet()
    heading(sheet, 2.6, f"{circuit.title}: strips of {block}")
    _draw_strips(sheet, nets, (len(parts) + 1) * COLUMN_X)
    for column, part in enumerate(parts, start=1):
        _draw_column(sheet, part, nets, column * COLUMN_X)
    return svg_of(sheet)


def _strip_order(parts: list[Part]) -> list[str]:
    """Rails outside, the other nets so that a part's nets lie near one another."""
    found: list[str] = []
    for part in parts:
        for net in part.nets.values():
            if net not in found and net != NC and net not in RAILS:
                found.append(net)
    used = {net for part in parts for net in part.nets.values()}
    top = [rail for rail in ("VBUS", "VPOT", "3V3", "VREF") if rail in used]
    return [*top, *found, *(["GND"] if "GND" in used else [])]


def _draw_strips(sheet: schemdraw.Drawing, nets: list[str], width: float) -> None:
    for row, net in enumerate(nets):
        y = -row * ROW_Y
        line(sheet, (0, y), (width, y)).color(COPPER).linewidth(3)
        word_beside(sheet, (-0.2, y), net, halign="right", color=NET_COLOR, fontsize=11)
        word_beside(sheet, (width + 0.2, y), str(row + 1), halign="left", fontsize=9)


def _draw_column(sheet: schemdraw.Drawing, part: Part, nets: list[str], x: float) -> None:
    legs_of_net: dict[str, list[str]] = {}
    for leg in part.kind.pins:
        if part.nets[leg.name] != NC:
            legs_of_net.setdefault(part.nets[leg.name], []).append(leg.number)
    rows = sorted(nets.index(net) for net in legs_of_net)
    top, bottom = -rows[0] * ROW_Y, -rows[-1] * ROW_Y
    line(sheet, (x, top), (x, bottom)).linewidth(1.2)
    line(sheet, (x, top), (x, 0.35)).linestyle(":").linewidth(0.7).color("gray")
    label = f"{part.ref} {part.value}" if len(part.value) < 14 else part.ref
    word(sheet, (x + 0.1, 0.5), label, halign="left", fontsize=9, rotate=60)
    for net, legs in legs_of_net.items():
        y = -nets.index(net) * ROW_Y
        sheet.add(elm.Dot(radius=0.09).at((x, y)))
        if _which_leg_matters(part):
            word(sheet, (x + 0.12, y + 0.06), ",".join(legs), halign="left", fontsize=8)


def _which_leg_matters(part: Part) -> bool:
    return len(part.kind.pins) > 2 or "K" in part.nets or part.kind.name == "cap_bulk"
