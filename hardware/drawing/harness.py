"""Terminals, leads and the adapter that is plugged between sensor plug and sensor."""

from __future__ import annotations

import schemdraw
import schemdraw.elements as elm
from circuit.model import NC, Circuit

from .sheet import Point, box, heading, line, net_name, new_sheet, svg_of, word, word_beside

BOARD_WIDTH, ADAPTER_X, ADAPTER_WIDTH, HEIGHT = 3.4, 15.0, 5.6, 7.2
ROW_Y = 1.6
FUSE_X = (9.6, 11.2)
"""Where the lead before the fuse ends, and where the fuse begins."""
WIRE_NOTE_X = 7.6
WATCH_TOP, WATCH_ROW_Y, WATCH_LEAD_X = -8.6, 0.9, 10.0

ENDS = {
    "LINE": "to the module: signal pin",
    "SENS": "to the sensor: signal pin",
    "GND": "tap on the return (not cut)",
    "BATN": "battery negative post",
}
"""Where each lead goes in the adapter."""
SIGNAL_WIRE = "1 mm2, twisted with GND, 3-4 m"
WIRES = {"LINE": SIGNAL_WIRE, "SENS": SIGNAL_WIRE, "BATN": "0.5 mm2, listening only (220 kohm)"}
"""What a lead is made of."""
WATCHED = {"THROTTLE": "0-5 V, cable-worked throttle's position only"}
WATCHED_ELSE = "solenoid, lock-up, fan relay, lamp, ignition feed: back-probed, listening only"
"""What a watch lead may be laid to."""


def harness_svg(circuit: Circuit) -> str:
    """The leads of a board."""
    sheet = new_sheet()
    heading(sheet, 1.6, f"{circuit.title}: leads and adapter")
    _titled_box(sheet, (0, 0), BOARD_WIDTH, HEIGHT, "board, J1")
    _titled_box(sheet, (ADAPTER_X, 0), ADAPTER_WIDTH, HEIGHT, "adapter between the plugs")
    for row, (pin, net) in enumerate(circuit["J1"].nets.items()):
        y = -1.0 - row * ROW_Y
        sheet.add(elm.Dot(open=True).at((BOARD_WIDTH, y)))
        word_beside(sheet, (BOARD_WIDTH - 0.2, y), f"{pin}  {net_name(net, '-')}", halign="right")
        if net != NC:
            _draw_lead(sheet, circuit, net, y)
    if "J2" in circuit.parts:
        _draw_watch_leads(sheet, circuit)
    return svg_of(sheet)


def _titled_box(
    sheet: schemdraw.Drawing, corner: Point, width: float, height: float, title: str
) -> None:
    box(sheet, corner, width, height)
    word(sheet, (corner[0] + width / 2, corner[1] + 0.12), title, fontsize=12)


def _draw_lead(sheet: schemdraw.Drawing, circuit: Circuit, net: str, y: float) -> None:
    """One lead from the board's terminal to the adapter; the return has its fuse at the far end."""
    start, end = (BOARD_WIDTH + 0.1, y), (ADAPTER_X, y)
    if net == "GND":
        fuse = circuit["F1"]
        line(sheet, start, (FUSE_X[0], y))
        symbol = elm.Fuse().at((FUSE_X[1], y)).to(end)
        sheet.add(symbol.label(f"{fuse.ref}  {fuse.value}, at this end"))
    else:
        line(sheet, start, end)
    if net in WIRES:
        word(sheet, (WIRE_NOTE_X, y + 0.14), WIRES[net], fontsize=10)
    sheet.add(elm.Dot().at(end))
    word_beside(sheet, (ADAPTER_X + 0.25, y), ENDS[net], halign="left", fontsize=11)


def _draw_watch_leads(sheet: schemdraw.Drawing, circuit: Circuit) -> None:
    terminals = {pin: net for pin, net in circuit["J2"].nets.items() if net != NC}
    height = WATCH_ROW_Y * len(terminals) + 0.6
    _titled_box(sheet, (0, WATCH_TOP), BOARD_WIDTH, height, "board, J2")
    for row, (pin, net) in enumerate(terminals.items()):
        y = WATCH_TOP - 0.8 - row * WATCH_ROW_Y
        word_beside(sheet, (BOARD_WIDTH - 0.2, y), f"{pin}  {net}", halign="right")
        line(sheet, (BOARD_WIDTH, y), (WATCH_LEAD_X, y))
        note = WATCHED.get(net, WATCHED_ELSE)
        word_beside(sheet, (WATCH_LEAD_X + 0.3, y), note, halign="left", fontsize=10)
