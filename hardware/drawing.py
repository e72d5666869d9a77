"""Drawings made from the circuit data with schemdraw: schematic by blocks, strips, harness.

Symbols, references, values and net names all come from the data; this file only says where on the
page a part goes. A block's schematic shows each chip as a box with the net beside every leg, and
the two-legged parts as chains from net to net: equal names are joined.
"""

from __future__ import annotations

import warnings

import schemdraw
import schemdraw.elements as elm
from circuit.model import NC, Circuit, Part

RAILS = ("GND", "3V3", "VREF", "VBUS", "VPOT")
SYMBOLS = {
    "R": elm.Resistor, "C": elm.Capacitor, "F": elm.Fuse, "TH": elm.Thermistor, "S": elm.Switch,
    "D": elm.Diode,
}  # fmt: skip
STEP_X, STEP_Y, CHAIN_LENGTH = 4.2, 1.75, 4
PAGE_X = 24.0


def drawings(circuit: Circuit) -> dict[str, str]:
    """File name to SVG text for everything that is drawn of a board."""
    found = {}
    for block in circuit.blocks():
        if block not in ("carriers", "harness"):
            found[f"{circuit.name}_{block}.svg"] = block_svg(circuit, block)
            found[f"{circuit.name}_strips_{block}.svg"] = strips_svg(circuit, block)
    found[f"{circuit.name}_carrier.svg"] = block_svg(circuit, "carriers")
    found[f"{circuit.name}_harness.svg"] = harness_svg(circuit)
    return found


def _sheet() -> schemdraw.Drawing:
    schemdraw.use("svg")
    schemdraw.svgconfig.text = "text"
    sheet = schemdraw.Drawing(show=False)
    sheet.config(unit=2.6, fontsize=11, font="sans-serif", margin=0.4, lw=1.4, bgcolor="white")
    return sheet


def _svg(sheet: schemdraw.Drawing) -> str:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return sheet.get_imagedata("svg").decode("utf-8").rstrip() + "\n"


def block_svg(circuit: Circuit, block: str) -> str:
    """The schematic of one block."""
    sheet = _sheet()
    parts = circuit.of_block(block)
    sheet.add(
        elm.Label()
        .theta(0)
        .at((0, 1.3))
        .label(f"{circuit.title}: {block}", halign="left", fontsize=15)
    )
    x = y = 0.0
    for chain in chains([p for p in parts if len(p.kind.pins) == 2 and p.kind.prefix in SYMBOLS]):
        wide = len(chain) * STEP_X + 2.6
        if x + wide > PAGE_X and x > 0:
            x, y = 0.0, y - STEP_Y
        _draw_chain(sheet, chain, x, y)
        x += wide
    y -= STEP_Y
    y -= 0.4
    boxes = [p for p in parts if not (len(p.kind.pins) == 2 and p.kind.prefix in SYMBOLS)]
    x, lowest = 2.6, y
    for part in boxes:
        height = _draw_box(sheet, part, x, y)
        lowest = min(lowest, y - height)
        x += 8.4
        if x > 20:
            x, y = 2.6, lowest - 1.6
    return _svg(sheet)


def chains(parts: list[Part]) -> list[list[tuple[Part, str, str]]]:
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
    return (3 if net == "GND" else 1 if net in RAILS else 0 if count == 1 else 2, count)


def _draw_chain(sheet: schemdraw.Drawing, chain: list, x: float, y: float) -> None:
    for at, (part, left, right) in enumerate(chain):
        start, end = (x + at * STEP_X, y), (x + at * STEP_X + STEP_X - 0.9, y)
        if at == 0:
            _net_label(sheet, start, left, "right")
        nets = list(part.nets.values())
        # diodes and zeners list cathode first: draw them from anode to cathode
        anode_left = "K" not in part.nets or part.nets.get("A") == left
        symbol = _symbol(part)()
        value = "" if part.value in part.kind.title and part.kind.prefix == "S" else part.value
        symbol.at(start if anode_left else end).to(end if anode_left else start)
        sheet.add(
            symbol.label(f"{part.ref}  {value}", loc="top" if anode_left else "bottom", ofst=0.12)
        )
        last = at == len(chain) - 1
        if last:
            _net_label(sheet, end, right, "left")
        else:
            sheet.add(
                elm.Line()
                .at(end)
                .to((end[0] + 0.9, y))
                .label(right, loc="bottom", fontsize=9, color="navy")
            )
        assert set(nets) == {left, right}


def _symbol(part: Part):
    by_model = {"tvs": elm.DiodeTVS, "zener": elm.Zener, "schottky": elm.Schottky}
    if part.kind.name == "led":
        return elm.LED
    return by_model.get(part.kind.model, SYMBOLS[part.kind.prefix])


def _net_label(sheet: schemdraw.Drawing, at, net: str, side: str) -> None:
    sheet.add(elm.Dot(open=True).at(at))
    shift = -0.25 if side == "right" else 0.25
    sheet.add(
        elm.Label()
        .theta(0)
        .at((at[0] + shift, at[1] - 0.12))
        .label(net, halign=side, color="navy", fontsize=11)
    )


def _draw_box(sheet: schemdraw.Drawing, part: Part, x: float, y: float) -> float:
    """A chip, relay, transistor or plug: a box, legs with number and name, nets outside."""
    legs = part.kind.pins
    half = (len(legs) + 1) // 2
    rows = max(half, len(legs) - half)
    pitch, width = 0.62, 3.4
    height = rows * pitch + 0.3
    left, top = x, y - 0.6
    sheet.add(elm.Rect(corner1=(0, 0), corner2=(width, -height)).theta(0).at((left, top)))
    title = part.ref + "  " + (part.value if len(part.value) < 26 else part.kind.title)
    sheet.add(
        elm.Label()
        .theta(0)
        .at((left + width / 2, top + 0.12))
        .label(title, halign="center", fontsize=11)
    )
    for at, leg in enumerate(legs):
        on_left = at < half
        row = at if on_left else len(legs) - 1 - at
        level = top - 0.4 - row * pitch
        edge = left if on_left else left + width
        out = edge + (-0.5 if on_left else 0.5)
        sheet.add(elm.Line().at((edge, level)).to((out, level)))
        inside, outside = ("left", "right") if on_left else ("right", "left")
        text = f"{leg.number} {leg.name}" if on_left else f"{leg.name} {leg.number}"
        if leg.name == leg.number:
            text = leg.name
        shift = 0.12 if on_left else -0.12
        sheet.add(
            elm.Label()
            .theta(0)
            .at((edge + shift, level - 0.12))
            .label(text, halign=inside, fontsize=9)
        )
        net = part.nets[leg.name]
        sheet.add(
            elm.Label().theta(0).at((out - shift, level - 0.12)).label(
                "open" if net == NC else net, halign=outside, fontsize=10,
                color="gray" if net == NC else "navy",
            )
        )  # fmt: skip
    return height + 0.6


def strips_svg(circuit: Circuit, block: str) -> str:
    """Wiring on stripboard: every net a strip, every part a column with a dot where it is soldered.

    Number beside a dot: the leg. Chips sit in sockets across a cut and are wired leg by leg.
    """
    parts = circuit.of_block(block)
    nets = _strip_order(parts)
    sheet = _sheet()
    dx, dy = 0.95, 0.62
    width = (len(parts) + 1) * dx
    sheet.add(
        elm.Label()
        .theta(0)
        .at((0, 2.6))
        .label(f"{circuit.title}: strips of {block}", halign="left", fontsize=15)
    )
    for row, net in enumerate(nets):
        y = -row * dy
        sheet.add(elm.Line().at((0, y)).to((width, y)).color("#c98a3a").linewidth(3))
        sheet.add(
            elm.Label()
            .theta(0)
            .at((-0.2, y - 0.12))
            .label(net, halign="right", color="navy", fontsize=11)
        )
        sheet.add(
            elm.Label()
            .theta(0)
            .at((width + 0.2, y - 0.12))
            .label(str(row + 1), halign="left", fontsize=9)
        )
    for column, part in enumerate(parts, start=1):
        _draw_column(sheet, part, nets, column * dx, dy)
    return _svg(sheet)


def _draw_column(
    sheet: schemdraw.Drawing, part: Part, nets: list[str], x: float, dy: float
) -> None:
    by_net: dict[str, list[str]] = {}
    for leg in part.kind.pins:
        if part.nets[leg.name] != NC:
            by_net.setdefault(part.nets[leg.name], []).append(leg.number)
    rows = sorted(nets.index(net) for net in by_net)
    sheet.add(elm.Line().at((x, -rows[0] * dy)).to((x, -rows[-1] * dy)).linewidth(1.2))
    sheet.add(
        elm.Line().at((x, -rows[0] * dy)).to((x, 0.35)).linestyle(":").linewidth(0.7).color("gray")
    )
    label = f"{part.ref} {part.value}" if len(part.value) < 14 else part.ref
    sheet.add(
        elm.Label().theta(0).at((x + 0.1, 0.5)).label(label, halign="left", fontsize=9, rotate=60)
    )
    for net, legs in by_net.items():
        y = -nets.index(net) * dy
        sheet.add(elm.Dot(radius=0.09).at((x, y)))
        polar = len(part.kind.pins) > 2 or "K" in part.nets or part.kind.name == "cap_bulk"
        text = ",".join(legs) if polar else ""
        if text:
            sheet.add(
                elm.Label().theta(0).at((x + 0.12, y + 0.06)).label(text, halign="left", fontsize=8)
            )


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


def harness_svg(circuit: Circuit) -> str:
    """Terminals, leads and the adapter that is plugged between sensor plug and sensor."""
    sheet = _sheet()
    sheet.add(
        elm.Label()
        .theta(0)
        .at((0, 1.6))
        .label(f"{circuit.title}: leads and adapter", halign="left", fontsize=15)
    )
    terminals = circuit["J1"].nets
    width, right = 3.4, 15.0
    sheet.add(elm.Rect(corner1=(0, 0), corner2=(width, -7.2)).theta(0).at((0, 0)))
    sheet.add(elm.Label().theta(0).at((width / 2, 0.12)).label("board, J1", fontsize=12))
    sheet.add(elm.Rect(corner1=(0, 0), corner2=(5.6, -7.2)).theta(0).at((right, 0)))
    sheet.add(
        elm.Label().theta(0).at((right + 2.8, 0.12)).label("adapter between the plugs", fontsize=12)
    )
    ends = {
        "LINE": "to the module: signal pin",
        "SENS": "to the sensor: signal pin",
        "GND": "tap on the return (not cut)",
        "BATN": "battery negative post",
    }
    for row, (pin, net) in enumerate(terminals.items()):
        y = -1.0 - row * 1.6
        sheet.add(elm.Dot(open=True).at((width, y)))
        sheet.add(
            elm.Label()
            .theta(0)
            .at((width - 0.2, y - 0.12))
            .label(f"{pin}  {'-' if net == NC else net}", halign="right")
        )
        if net == NC:
            continue
        here = (width + 0.1, y)
        if net == "GND":
            sheet.add(elm.Line().at(here).to((9.6, y)))
            fuse = circuit["F1"]
            sheet.add(
                elm.Fuse()
                .at((11.2, y))
                .to((right, y))
                .label(f"{fuse.ref}  {fuse.value}, at this end")
            )
        else:
            sheet.add(elm.Line().at(here).to((right, y)))
        if net in ("LINE", "SENS"):
            sheet.add(
                elm.Label()
                .theta(0)
                .at((7.6, y + 0.14))
                .label("1 mm2, twisted with GND, 3-4 m", fontsize=10)
            )
        if net == "BATN":
            sheet.add(
                elm.Label()
                .theta(0)
                .at((7.6, y + 0.14))
                .label("0.5 mm2, listening only (220 kohm)", fontsize=10)
            )
        sheet.add(elm.Dot().at((right, y)))
        sheet.add(
            elm.Label()
            .theta(0)
            .at((right + 0.25, y - 0.12))
            .label(ends[net], halign="left", fontsize=11)
        )
    _draw_watch_leads(sheet, circuit, width)
    return _svg(sheet)


def _draw_watch_leads(sheet: schemdraw.Drawing, circuit: Circuit, width: float) -> None:
    if "J2" not in circuit.parts:
        return
    terminals = {pin: net for pin, net in circuit["J2"].nets.items() if net != NC}
    top = -8.6
    sheet.add(elm.Rect(corner1=(0, 0), corner2=(width, -0.9 * len(terminals) - 0.6)).at((0, top)))
    sheet.add(elm.Label().theta(0).at((width / 2, top + 0.12)).label("board, J2", fontsize=12))
    for row, (pin, net) in enumerate(terminals.items()):
        y = top - 0.8 - row * 0.9
        sheet.add(
            elm.Label().theta(0).at((width - 0.2, y - 0.12)).label(f"{pin}  {net}", halign="right")
        )
        sheet.add(elm.Line().at((width, y)).to((10.0, y)))
        note = "0-5 V, cable-worked throttle's position only" if net == "THROTTLE" else (
            "solenoid, lock-up, fan relay, lamp, ignition feed: back-probed, listening only")  # fmt: skip
        sheet.add(elm.Label().theta(0).at((10.3, y - 0.12)).label(note, halign="left", fontsize=10))
