"""What both boards have alike: the coil's driver with its pump, the node's divider, watch lines."""

from __future__ import annotations

from . import pins
from .model import NC, Builder


def coil_driver(b: Builder, returns_to: str, *, diode: int, resistor: int) -> None:
    """Rest switch, relay driver and the transistor that the pump holds on.

    The current leaves through `returns_to`. Two diodes and two resistors are counted up from the
    numbers given.
    """
    b.add("S1", "switch", _1="VBUS", _2="COIL_P")
    b.add(f"D{diode}", "zener_9v1", K="SNUB", A="COIL_P")
    b.add(f"D{diode + 1}", "diode", K="SNUB", A="COIL_N")
    b.resistor(f"R{resistor}", 100, "RELAY", "RELAY_G")
    b.resistor(f"R{resistor + 1}", 10e3, "RELAY_G", "GND")
    b.add("Q6", "mosfet_n", G="RELAY_G", S="COIL_M", D="COIL_N")
    b.add("Q7", "mosfet_n", G="PUMP", S=returns_to, D="COIL_M")


def coil_pump(b: Builder, *, diode: int, resistor: int, capacitor: int) -> None:
    """The pump that lets the coil go when the heartbeat stops, and the sense of the rest switch.

    One diode pair, four resistors and two capacitors are counted up from the numbers given.
    """
    b.resistor(f"R{resistor}", 1e3, "HEART", "PUMP_R")
    b.capacitor(f"C{capacitor}", 220e-9, "PUMP_R", "PUMP_AC", "cap_film")
    b.add(f"D{diode}", "schottky_pair", A="GND", K="PUMP", M="PUMP_AC")
    b.capacitor(f"C{capacitor + 1}", 220e-9, "PUMP", "GND", "cap_film")
    b.resistor(f"R{resistor + 1}", 270e3, "PUMP", "GND")
    b.resistor(f"R{resistor + 2}", 4700, "COIL_P", "REST")
    b.resistor(f"R{resistor + 3}", 6800, "REST", "GND")


def node_divider(b: Builder, resistor: int) -> None:
    """Four times 10 Mohm from LINE to ground, counted up from a number; the half is NODE_DIV."""
    nets = ("LINE", "NODE_A", "NODE_DIV", "NODE_B", "GND")
    for number, (top, bottom) in enumerate(zip(nets[:-1], nets[1:], strict=True), resistor):
        b.resistor(f"R{number}", 10e6, top, bottom)


def watch_lines(b: Builder, lines: int, reference_cap: str, chip_cap: str) -> None:
    """Protected comparators, one for each line, four to a chip; spare ones are kept still."""
    b.resistor("R54", 20e3, "3V3", "WREF")
    b.resistor("R55", 10.5e3, "WREF", "GND")
    b.capacitor(reference_cap, 100e-9, "WREF", "GND")
    quads: dict[str, dict[str, str]] = {}
    for line in range(1, lines + 1):
        lead, near, signal = f"W{line}", f"W{line}_C", f"WATCH{line}"
        base = 100 + 10 * line
        b.add(f"D{base}", "tvs_58", _1=lead, _2="GND")
        b.resistor(f"R{base}", 220e3, lead, near)
        b.resistor(f"R{base + 1}", 47e3, near, "GND")
        b.capacitor(f"C{base}", 470e-12, near, "GND", "cap_c0g")
        b.add(f"D{base + 1}", "schottky", K=near, A="GND")
        b.resistor(f"R{base + 2}", 1e6, near, signal)
        b.resistor(f"R{base + 3}", 10e3, signal, "3V3")
        chip, cell = ("U9", line) if line <= 4 else ("U10", line - 4)
        cells = {f"IN{cell}P": near, f"IN{cell}N": "WREF", f"OUT{cell}": signal}
        quads[chip] = quads.get(chip, {}) | cells
    for chip, legs in quads.items():
        spare = {
            key: net
            for cell in range(1, 5)
            if f"OUT{cell}" not in legs
            for key, net in ((f"IN{cell}P", "GND"), (f"IN{cell}N", "WREF"), (f"OUT{cell}", NC))
        }
        b.add(chip, "comparator_quad", VCC="VBUS", GND="GND", **legs, **spare)
    b.capacitor(chip_cap, 100e-9, "VBUS", "GND")


def pico_nets(table: dict[str, int]) -> dict[str, str]:
    """The nets of a Pico's forty legs for one pin table."""
    by_gpio = {number: name for name, number in table.items()}
    nets = {f"GP{n}": by_gpio.get(n, NC) for n in pins.PICO_HEADER}
    nets |= {f"GND{n}": "GND" for n in range(1, 8)}
    nets |= {"AGND": "GND", "RUN": NC, "ADCREF": NC, "_3V3": "3V3", "_3V3EN": NC, "VSYS": NC}
    return nets | {"VBUS": "VBUS"}
