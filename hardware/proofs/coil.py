"""The coil's driver: its pump, the plug pulled while standing in, and a carrier in reset."""

from __future__ import annotations

import numpy as np
from circuit.model import Circuit
from circuit.spice import Elements

from .bench import module
from .deck import Deck, Row, crossing

STOP_S = 0.5
GATE_LEAK_A = 1e-6
"""What a carrier's pin in reset may push into a gate net (RP2040 input leakage, from memory)."""


def rows(circuit: Circuit) -> list[Row]:
    return [*pump_rows(circuit), *unplugged_rows(circuit), *reset_rows(circuit)]


def _scaled(circuit: Circuit, capacitors: float, resistor: float) -> Circuit:
    """The pump's capacitors and resistor at one end of their tolerance."""
    for ref, factor in (("C9", capacitors), ("C10", capacitors), ("R21", resistor)):
        if ref in circuit.parts:
            circuit = circuit.changed(ref, si=(circuit[ref].si or 0) * factor)
    return circuit


def pump_deck(circuit: Circuit, stops: str, threshold: str) -> Deck:
    """HEART toggled at 100 Hz until 0.5 s, then left high, low, or never stopped."""
    elements = Elements(circuit, {"K1": "coil"}, threshold).blocks("coil").parts("K1")
    beat = "pulse(0 3.3 0 10u 10u 5m 10m)"
    gate = {"high": "max(v(beat), 3.3*v(late))", "low": "v(beat)*(1-v(late))", "never": "v(beat)"}
    made = Deck(
        f"coil's pump, heart beat {'stopped ' + stops if stops != 'never' else 'at full rate'}",
        elements.text(),
        ["v_usb vbus 0 5", "v_relay relay 0 3.3", "v_trip trip 0 3.3", f"v_beat beat 0 {beat}",
         f"v_late late 0 pwl(0 0 {STOP_S} 0 {STOP_S + 1e-5} 1)", f"b_heart heart 0 v = {gate[stops]}",
         *_contacts_idle()],
    )  # fmt: skip
    made.tran("0.2m 0.85 0 0.2m", ["v(pump)", "v(pos_k1)", "v(coil_n)", "i(v_k1_coil)"])
    return made


def _contacts_idle() -> list[str]:
    return ["r_line line 0 1k", "r_sens sens 0 1k", "r_no1 no1 0 1k", "r_ohm ohm 0 1k"]


def pump_rows(circuit: Circuit) -> list[Row]:
    judged = []
    for threshold, scale in (("high", (0.9, 0.99)), ("low", (1.1, 1.01))):
        changed = _scaled(circuit, *scale)
        time, gate, relay, *_ = pump_deck(changed, "never", threshold).run()
        late = time > 0.3
        if threshold == "high":
            judged += [
                Row("pump at 100 Hz: gate of Q7, worst parts", float(gate[late].min()), "V", low=2.0),
                Row("pump at 100 Hz: relay on after", crossing(time, relay, 0.98) * 1e3, "ms", high=60.0),
                Row("pump at 100 Hz: relay holds", float(relay[late].min()), "1", low=0.97),
            ]  # fmt: skip
    worst = 0.0
    for stops in ("high", "low"):
        times = []
        for threshold, scale in (("high", (0.9, 0.99)), ("low", (1.1, 1.01))):
            time, _, relay, *_ = pump_deck(_scaled(circuit, *scale), stops, threshold).run()
            times.append(crossing(time, relay, 0.02, STOP_S) - STOP_S)
        worst = max(times) if np.all(np.isfinite(times)) else float("nan")
        judged.append(
            Row(f"heart beat stopped {stops}: relay at rest after at most", worst * 1e3, "ms",
                high=250.0, note=f"quickest parts {min(times) * 1e3:.0f} ms")
        )  # fmt: skip
    time, _, _, _, current = pump_deck(circuit, "never", "typ").run()
    judged.append(Row("coil current", float(current.max()) * 1e3, "mA", 25.0, 45.0))
    return judged


def unplugged_deck(circuit: Circuit) -> Deck:
    """USB pulled at 100 ms, standing in near the module's 5 V, HEART and RELAY kept by luck."""
    states = {"K1": "coil", "K2": "on", "K3": "off", "U1": (None, None), "U2": (320e3, 160e3)}
    elements = Elements(circuit, states, "low").blocks("contacts", "coil", "power", "pots")
    made = Deck(
        "USB pulled while standing in",
        elements.text(),
        ["v_usb usb 0 5", ".model plug sw(vt=0.5 vh=0 ron=0.1 roff=1e9)", "s_plug usb vbus plug 0 plug",
         "v_plug plug 0 pwl(0 1 100m 1 100.001m 0)",
         # the carrier: 30 mA while there are 2 V, its own capacitor, and its 3.3 V
         "b_carrier vbus 0 i = 0.03*(0.5+0.5*tanh((v(vbus)-2)/0.2))", "c_carrier vbus 0 4.7u",
         "b_logic logic 0 v = min(3.3, max(0, v(vbus)))", "r_logic logic n3v3 0.1",
         "r_vref vref 0 30k", "b_relay relay 0 v = v(n3v3)", "b_trip trip 0 v = v(n3v3)",
         "v_beat beat 0 pulse(0 1 0 10u 10u 5m 10m)", "b_heart heart 0 v = v(beat)*v(n3v3)",
         "v_hot1 hot1 0 0", "v_hot2 hot2 0 0", "v_conn conn 0 3.3", "v_short short 0 0",
         "r_sens sens 0 2k", "r_ohm ohm 0 1e8", *module(1000.0, 5.0)],
    )  # fmt: skip
    made.tran("20u 160m 0 20u", ["v(vbus)", "v(vpot)", "v(net)", "v(pos_k1)", "v(line)"])
    return made


def unplugged_rows(circuit: Circuit) -> list[Row]:
    time, usb, vpot, net, relay, line = unplugged_deck(circuit).run()
    before = float(np.interp(99e-3, time, relay))
    gone = crossing(time, relay, 0.02, 100e-3)
    standing = (time > 99e-3) & (time <= (gone if np.isfinite(gone) else 160e-3))
    margin = float((vpot - net)[standing].min())
    return [
        Row("USB pulled: relay was energised", before, "1", low=0.97),
        Row("USB pulled: relay at rest after", (gone - 100e-3) * 1e3, "ms", high=20.0),
        Row("USB pulled: VPOT above the node until then, at least", margin, "V", low=0.1,
            note=f"VPOT still {np.interp(gone, time, vpot):.2f} V, node {net[standing].max():.2f} V"),
    ]  # fmt: skip


def reset_deck(circuit: Circuit) -> Deck:
    """Every pin of the carrier floats and leaks: nothing may switch on."""
    elements = Elements(circuit, {"K1": "coil"}, "low").blocks("coil", "contacts")
    elements.parts("Q5", "Q8", "R4", "R5", "Q1", "Q2", "Q3", "R24", "R25", "R26")
    floats = ("relay", "conn", "short", "hot1", "hot2", "heart")
    made = Deck(
        "carrier in reset, pins floating with leakage",
        elements.text(),
        ["v_usb vbus 0 5", "v_logic n3v3 0 3.3", "v_vref vref 0 3.3", "v_trip trip 0 3.3",
         # the pump is given full: the pull-down alone must keep the coil off
         "v_pump pump 0 2.9",
         *(f"i_{net} 0 {net} {GATE_LEAK_A}" for net in floats),
         *(f"d_{net} {net} n3v3 dchip" for net in floats),
         *(f"i_range{n} range_{n} 0 {GATE_LEAK_A}" for n in ("1k5", "12k", "100k")),
         *(f"d_range{n} 0 range_{n} dchip" for n in ("1k5", "12k", "100k")),
         *(f"r_rk{n} rk{n}_d 0 1k" for n in (1, 2, 3)), "r_h1 hot1_d 0 1e6", "r_h2 hot2_d 0 1e6",
         "r_net net 0 1e6", *_contacts_idle()],
    )  # fmt: skip
    made.op([], ["v(relay_g)", "v(conn)", "v(short)", "v(hot1)", "v(hot2)", "i(v_k1_coil)",
                 "v(rk1_d)", "v(rk2_d)", "v(rk3_d)"])  # fmt: skip
    return made


def reset_rows(circuit: Circuit) -> list[Row]:
    found = reset_deck(circuit).run()[0]
    return [
        Row("carrier in reset: highest gate voltage", float(found[:5].max()), "V", high=0.4,
            note="threshold at least 0.65 V"),
        Row("carrier in reset: coil current", float(found[5]) * 1e3, "mA", high=1.0),
        Row("carrier in reset: ohmmeter's references", float(found[6:].max()) * 1e3, "mV", high=50.0),
    ]  # fmt: skip
