"""The starter board: a Pico, one dual pot, one relay, a buffered divider, for a first evening.

Driver, pump and rest switch are those of the reference board. The pots live on VBUS, so nothing above
VBUS - 0.1 V may be on the line; open is made by the pots' own terminal switches; there is no
ohmmeter, hence no value of the real sensor while standing in.
"""

from __future__ import annotations

from . import pins
from .model import NC, Builder, Circuit
from .shared import coil_driver, coil_pump, node_divider, pico_nets, watch_lines


def starter() -> Circuit:
    """The starter board."""
    board = Builder("starter", "locum starter board")
    for block in (_pots, _contacts, _coil, _node, _watch, _panel, _carriers, _harness):
        board.block = block.__name__.strip("_")
        block(board)
    return board.done()


def _pots(b: Builder) -> None:
    b.add("U1", "pot_10k", CS="CS_POT10K", SCK="SCK", SDI="MOSI", VSS="GND", P1B="GND", P1W="NET",
          P1A=NC, P0A=NC, P0W="NET", P0B="GND", WP="VBUS", SHDN="VBUS", SDO="SDO",
          VDD="VBUS")  # fmt: skip
    b.capacitor("C1", 100e-9, "VBUS", "GND")
    # Small on purpose: the coil hangs on VBUS too, and must fall soon after the plug is pulled.
    b.capacitor("C2", 10e-6, "VBUS", "GND", "cap_bulk")
    b.add("D1", "clamp_pair", A="GND", K="VBUS", M="NET")
    b.add("D2", "zener_6v2", K="VBUS", A="GND")
    b.resistor("R1", 2200, "SDO", "MISO")
    b.resistor("R2", 3300, "MISO", "GND")
    b.resistor("R3", 10e3, "CS_POT10K", "3V3")


def _contacts(b: Builder) -> None:
    b.add("K1", "relay_mbb", COILP="COIL_P", COILN="COIL_N", COM1="LINE", NC1="SENS", NO1="NO1",
          COM2=NC, NC2=NC, NO2=NC)  # fmt: skip
    b.add("D3", "tvs_28", _1="LINE", _2="GND")
    b.add("F2", "fuse_200", _1="NO1", _2="FUSED")
    b.resistor("RS1", 33, "FUSED", "NET", "res_3w")


def _coil(b: Builder) -> None:
    coil_driver(b, "GND", diode=4, resistor=4)
    coil_pump(b, diode=6, resistor=6, capacitor=3)


def _node(b: Builder) -> None:
    node_divider(b, 10)
    b.add("U6", "opamp_dual", OUTA="NODE_BUF", INAN="NODE_BUF", INAP="NODE_DIV", VSS="GND",
          INBP="GND", INBN="OUT_B", OUTB="OUT_B", VDD="3V3")  # fmt: skip
    b.capacitor("C5", 100e-9, "3V3", "GND")
    b.resistor("R14", 1e3, "NODE_BUF", "NODE2")
    b.capacitor("C6", 1e-9, "NODE2", "GND", "cap_c0g")


def _watch(b: Builder) -> None:
    watch_lines(b, pins.STARTER_WATCH_LINES, "C8", "C9")
    b.add("J2", "terminal_2", _1="W1", _2="W2")


def _panel(b: Builder) -> None:
    b.add("J3", "terminal_2", _1="MARK", _2="GND")
    b.resistor("R15", 4700, "MARK", "BUTTON")
    b.resistor("R16", 47e3, "BUTTON", "3V3")
    b.capacitor("C7", 100e-9, "BUTTON", "GND")
    b.resistor("R17", 680, "LED", "LED_A")
    b.add("D8", "led", K="GND", A="LED_A")


def _carriers(b: Builder) -> None:
    b.add("A1", "pico", **pico_nets(pins.pico_signals("starter")))


def _harness(b: Builder) -> None:
    b.add("J1", "terminal_4", _1="LINE", _2="SENS", _3="GND", _4=NC)
    b.add("X1", "tap_clip", TAP="CAR_RETURN")
    b.add("F1", "fuse_500", _1="CAR_RETURN", _2="GND")
