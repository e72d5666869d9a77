"""The reference board: every part and what it is joined to, block by block.

The circuit is the settled one. What differs from it, and why:

* **K3 sits behind F2**, so a short circuit played into a line that is chafed to battery is fused
  too; it was not. The played short is then about 5 ohm instead of 3: 25 mV on a 1 kohm pull-up,
  below the 50 mV that makers call a short.
* **A trip opens one transistor (Q11)** in the common return of the coil and of both solid-state
  relays, instead of pulling three gates low through diodes: no gate is left at 0.5 V.
* **The trip compares half the node** (1.43 V), because the comparator's common mode ends at 2.4 V
  when a weak USB port gives 4.4 V.
* **P6KE33CA** (through-hole) instead of SMAJ33CA on LINE and SENS: at the 24 A of an 8 kV discharge
  it holds 56 V; the smaller and higher one lets about 90 V through, over the 60 V of K2 and K3.
* **R21 is 270 kohm**, not 470: stopped with HEART high, the pump's first capacitor keeps feeding the
  second, and the worst parts let go after 0.4 s; now 233 ms, with 2.4 V on the gate at 100 Hz.
* Series resistors before U4 keep an HCT part (which has input clamps) harmless.
"""

from __future__ import annotations

from . import pins
from .model import NC, Builder, Circuit
from .shared import coil_driver, coil_pump, node_divider, pico_nets, watch_lines


def reference() -> Circuit:
    """The reference board with six watch lines, a 0-5 V input and both carriers' headers."""
    board = Builder("reference", "locum reference board")
    for block in (
        _power, _pots, _contacts, _coil, _ohmmeter, _node, _converter, _watch, _panel, _carriers,
        _harness,
    ):  # fmt: skip
        board.block = block.__name__.strip("_")
        block(board)
    return board.done()


def _power(b: Builder) -> None:
    b.capacitor("C1", 10e-6, "VBUS", "GND", "cap_bulk")
    b.add("U5", "charge_pump", PGOOD=NC, VOUT="VPOT", VIN="VBUS", GND="GND", CN="FLY_N", CP="FLY_P",
          SHDN="VBUS", FB="VPOT_FB")  # fmt: skip
    b.capacitor("C2", 1e-6, "FLY_P", "FLY_N")
    b.capacitor("C3", 10e-6, "VPOT", "GND", "cap_x7r", rating="16 V")
    b.resistor("R1", 115e3, "VPOT", "VPOT_FB")
    b.resistor("R2", 34e3, "VPOT_FB", "GND")
    b.capacitor("C4", 220e-6, "VPOT", "GND", "cap_bulk")
    b.add("D7", "zener_6v2", K="VPOT", A="GND")
    b.resistor("R3", 10, "3V3", "VREF")
    b.capacitor("C5", 10e-6, "VREF", "GND", "cap_x7r", rating="16 V")


def _pots(b: Builder) -> None:
    for ref, kind, select in (("U1", "pot_10k", "CS10"), ("U2", "pot_100k", "CS100")):
        b.add(ref, kind, CS=select, SCK="SCK5", SDI="MOSI5", VSS="GND", P1B="GND", P1W="NET",
              P1A=NC, P0A=NC, P0W="NET", P0B="GND", WP="VPOT", SHDN="VPOT", SDO="SDO",
              VDD="VPOT")  # fmt: skip
    b.capacitor("C6", 100e-9, "VPOT", "GND")
    b.capacitor("C7", 100e-9, "VPOT", "GND")
    b.resistor("RH1", 150, "NET", "HOT1_D", "res_01pct")
    b.add("Q5", "mosfet_n", G="HOT1", S="GND", D="HOT1_D")
    b.resistor("R4", 100e3, "HOT1", "GND")
    b.resistor("RH2", 330, "NET", "HOT2_D", "res_01pct")
    b.add("Q8", "mosfet_n", G="HOT2", S="GND", D="HOT2_D")
    b.resistor("R5", 100e3, "HOT2", "GND")
    for ref in ("D1", "D2"):
        b.add(ref, "clamp_pair", A="GND", K="VPOT", M="NET")
    b.add("U4", "buffer_quad", OE1="GND", A1="SCK_B", Y1="SCK5", OE2="GND", A2="MOSI_B", Y2="MOSI5",
          GND="GND", Y3="CS10", A3="CS10_B", OE3="GND", Y4="CS100", A4="CS100_B", OE4="GND",
          VCC="VPOT")  # fmt: skip
    b.capacitor("C8", 100e-9, "VPOT", "GND")
    for ref, signal, near in (
        ("R6", "SCK", "SCK_B"), ("R7", "MOSI", "MOSI_B"), ("R8", "CS_POT10K", "CS10_B"),
        ("R9", "CS_POT100K", "CS100_B"),
    ):  # fmt: skip
        b.resistor(ref, 2200, signal, near)
    b.resistor("R10", 10e3, "CS_POT10K", "3V3")
    b.resistor("R11", 10e3, "CS_POT100K", "3V3")
    b.resistor("R12", 2200, "SDO", "MISO")
    b.resistor("R13", 3300, "MISO", "GND")


def _contacts(b: Builder) -> None:
    b.add("K1", "relay_mbb", COILP="COIL_P", COILN="COIL_N", COM1="LINE", NC1="SENS", NO1="NO1",
          COM2="OHM", NC2="NO1", NO2="SENS")  # fmt: skip
    b.add("D8", "tvs_28", _1="LINE", _2="GND")
    b.add("D9", "tvs_28", _1="SENS", _2="GND")
    b.add("F2", "fuse_200", _1="NO1", _2="FUSED")
    b.resistor("RS1", 33, "FUSED", "RS_K2", "res_3w")
    b.add("K2", "photomos", A="K2_A", K="K2_K", X=NC, L1="RS_K2", S=NC, L2="NET")
    b.add("K3", "photomos", A="K3_A", K="K3_K", X=NC, L1="FUSED", S=NC, L2="GND")
    b.resistor("R14", 390, "3V3", "K2_A")
    b.resistor("R15", 390, "3V3", "K3_A")
    b.add("Q9", "mosfet_n", G="CONN", S="TRIP_N", D="K2_K")
    b.add("Q10", "mosfet_n", G="SHORT", S="TRIP_N", D="K3_K")
    b.resistor("R16", 47e3, "CONN", "GND")
    b.resistor("R17", 47e3, "SHORT", "GND")


def _coil(b: Builder) -> None:
    coil_driver(b, "TRIP_N", diode=10, resistor=18)
    b.add("Q11", "mosfet_n", G="TRIP", S="GND", D="TRIP_N")
    coil_pump(b, diode=12, resistor=20, capacitor=9)


def _ohmmeter(b: Builder) -> None:
    for number, (signal, ohm) in enumerate(
        (("RANGE_1K5", 750), ("RANGE_12K", 11.3e3), ("RANGE_100K", 100e3)), start=1
    ):
        b.add(f"Q{number}", "mosfet_p", G=signal, S="VREF", D=f"RK{number}_D")
        b.resistor(f"R{number + 23}", 100e3, signal, "3V3")
        b.resistor(f"RK{number}", ohm, f"RK{number}_D", "FORCE", "res_01pct")
    b.resistor("RPF1", 750, "FORCE", "OHM", "res_01pct_half_watt", maker_number="RN65C7500B")
    b.add("D5", "clamp_pair", A="GND", K="3V3", M="FORCE")
    b.resistor("R27", 10e3, "OHM", "OHM_S")
    b.capacitor("C11", 10e-9, "OHM_S", "GND", "cap_c0g")
    b.add("D6", "clamp_pair", A="GND", K="3V3", M="OHM_S")


def _node(b: Builder) -> None:
    node_divider(b, 28)
    b.add("U6", "opamp_dual", OUTA="NODE_BUF", INAN="NODE_BUF", INAP="NODE_DIV", VSS="GND",
          INBP="THR_DIV", INBN="THR_BUF", OUTB="THR_BUF", VDD="3V3")  # fmt: skip
    b.capacitor("C12", 100e-9, "3V3", "GND")
    b.resistor("R32", 1e3, "NODE_BUF", "NODE_ADC")
    b.capacitor("C13", 1e-9, "NODE_ADC", "GND", "cap_c0g")
    b.resistor("R33", 1e3, "NODE_BUF", "NODE2")
    b.capacitor("C14", 1e-9, "NODE2", "GND", "cap_c0g")
    b.resistor("R34", 10e3, "NODE_BUF", "NODE_HALF")
    b.resistor("R35", 10e3, "NODE_HALF", "GND")
    b.resistor("R36", 13.3e3, "3V3", "TRIP_REF")
    b.resistor("R37", 10e3, "TRIP_REF", "GND")
    b.resistor("R38", 1e6, "TRIP", "TRIP_REF")
    b.add("U8", "comparator_dual", OUTA="TRIP", INAN="NODE_HALF", INAP="TRIP_REF", GND="GND",
          INBP="GND", INBN="TRIP_REF", OUTB=NC, VCC="VBUS")  # fmt: skip
    b.resistor("R39", 10e3, "TRIP", "3V3")
    b.capacitor("C15", 100e-9, "VBUS", "GND")


def _converter(b: Builder) -> None:
    b.add("U3", "adc", CH0="OHM_S", CH1="NODE_ADC", CH2="VPOT_S", CH3="VBUS_S", CH4="BATN_S",
          CH5="TEMP", CH6="HALF_REF", CH7="THR_ADC", DGND="GND", CS="CS_ADC", DIN="MOSI",
          DOUT="MISO", CLK="SCK", AGND="GND", VREF="VREF", VDD="3V3")  # fmt: skip
    b.capacitor("C16", 100e-9, "3V3", "GND")
    b.resistor("R40", 10e3, "CS_ADC", "3V3")
    for number, rail in ((41, "VPOT"), (43, "VBUS")):
        b.resistor(f"R{number}", 100e3, rail, f"{rail}_S")
        b.resistor(f"R{number + 1}", 100e3, f"{rail}_S", "GND")
        b.capacitor(f"C{17 if rail == 'VPOT' else 18}", 100e-9, f"{rail}_S", "GND")
    b.add("D13", "tvs_58", _1="BATN", _2="GND")
    b.resistor("R45", 220e3, "BATN", "BATN_S")
    b.resistor("R46", 220e3, "VREF", "BATN_S")
    b.resistor("R47", 220e3, "BATN_S", "GND")
    b.capacitor("C19", 100e-9, "BATN_S", "GND")
    b.resistor("R48", 10e3, "VREF", "TEMP")
    b.add("TH1", "ntc", _1="TEMP", _2="GND")
    b.resistor("R49", 10e3, "VREF", "HALF_REF", "res_01pct")
    b.resistor("R50", 10e3, "HALF_REF", "GND", "res_01pct")
    b.capacitor("C20", 100e-9, "HALF_REF", "GND")
    b.add("D14", "tvs_58", _1="THROTTLE", _2="GND")
    b.resistor("R51", 470e3, "THROTTLE", "THR_DIV")
    b.resistor("R52", 470e3, "THR_DIV", "GND")
    b.capacitor("C21", 1e-9, "THR_DIV", "GND", "cap_c0g")
    b.resistor("R53", 1e3, "THR_BUF", "THR_ADC")
    b.capacitor("C22", 1e-9, "THR_ADC", "GND", "cap_c0g")


def _watch(b: Builder) -> None:
    watch_lines(b, pins.WATCH_LINES, "C23", "C24")
    b.capacitor("C25", 100e-9, "VBUS", "GND")


def _panel(b: Builder) -> None:
    b.add("J3", "terminal_2", _1="MARK", _2="GND")
    b.resistor("R56", 4700, "MARK", "BUTTON")
    b.resistor("R57", 47e3, "BUTTON", "3V3")
    b.capacitor("C26", 100e-9, "BUTTON", "GND")
    b.add("D15", "clamp_pair", A="GND", K="3V3", M="BUTTON")
    b.resistor("R58", 680, "LED", "LED_A")
    b.add("D16", "led", K="GND", A="LED_A")


def _carriers(b: Builder) -> None:
    b.add("A1", "pico", **pico_nets(pins.PICO))
    by_bcm = {number: name for name, number in pins.PI.items()}
    nets = {f"BCM{n}": by_bcm.get(n, NC) for n in pins.PI_HEADER}
    nets |= {"_3V3A": "3V3", "_3V3B": "3V3", "_5VA": "VBUS", "_5VB": "VBUS", "ID_SD": NC}
    nets |= {f"GND{n}": "GND" for n in range(1, 9)} | {"ID_SC": NC}
    b.add("J5", "pi_header", **nets)


def _harness(b: Builder) -> None:
    b.add("J1", "terminal_4", _1="LINE", _2="SENS", _3="GND", _4="BATN")
    b.add("X1", "tap_clip", TAP="CAR_RETURN")
    b.add("F1", "fuse_500", _1="CAR_RETURN", _2="GND")
    watch = {f"_{line}": f"W{line}" for line in range(1, pins.WATCH_LINES + 1)}
    b.add("J2", "terminal_8", **watch, _7="THROTTLE", _8=NC)
