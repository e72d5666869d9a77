"""Batteries and discharges on the leads: the real sensor's, the watch lines, battery and throttle."""

from __future__ import annotations

import numpy as np
from circuit.model import Circuit
from circuit.spice import Elements

from .deck import Deck, Row

SENSOR_LEAD_V = (14.5, -14.5, 28.0)
"""Battery either way round, and a jump start from a lorry. [V]"""
WATCH_LEAD_V = (60.0, 14.0, -14.5, -40.0)
"""Flyback, battery, battery the wrong way round, flyback the other way. [V]"""
OTHER_WATCH_LINES = (
    *(f"r_w{n} w{n}_c 0 1e6" for n in (2, 3, 4)),
    *(f"r_p{n} watch{n} 0 1e6" for n in (2, 3, 4)),
)
"""The comparators' other lines, held to ground."""


def rows(circuit: Circuit) -> list[Row]:
    return [*sensor_lead_rows(circuit), *watch_lead_rows(circuit), *discharge_rows(circuit)]


def first_watch_line(circuit: Circuit) -> list[str]:
    """References of the parts that belong to watch line 1 alone."""
    return [p.ref for p in circuit.of_block("watch") if "110" <= p.ref[1:] <= "119"]


def sensor_lead_rows(circuit: Circuit) -> list[Row]:
    """A battery, either way round, on the real sensor's lead while standing in; steady."""
    elements = Elements(circuit, {"K1": "energised"}).parts("K1", "D9", "R3").blocks("ohmmeter")
    made = Deck(
        "battery on the real sensor's lead while standing in",
        elements.text(),
        ["v_logic n3v3 0 3.3", "r_line line 0 1k", "r_no1 no1 0 1e8", "v_sens sens 0 0",
         "v_r1 range_1k5 0 0", "v_r2 range_12k 0 3.3", "v_r3 range_100k 0 3.3", "r_adc vref 0 30k"],
    )  # fmt: skip
    for volts in SENSOR_LEAD_V:
        made.op([f"v_sens = {volts}"], ["i(v_sens)", "v(ohm_s)", "v(force)"])
    judged = []
    for volts, (amps, sense_v, force_v) in zip(SENSOR_LEAD_V, made.run(), strict=True):
        rpf_w = (volts - force_v) ** 2 / (circuit["RPF1"].si or 1)
        sense_a = abs(volts - sense_v) / (circuit["R27"].si or 1)
        judged += [
            Row(f"{volts:g} V on SENS, ohmmeter on: heat in Rpf", float(rpf_w), "W",
                high=0.5 if abs(volts) < 20 else 1.0, note=f"{abs(amps) * 1e3:.1f} mA"),
            Row(f"{volts:g} V on SENS: into D6 and CH0 together", sense_a * 1e3, "mA", high=3.0,
                note="2 mA is the chip's, D6 takes most"),
        ]  # fmt: skip
    return judged


def watch_lead_rows(circuit: Circuit) -> list[Row]:
    """Battery, reversed battery and flyback on watch lines, battery negative and throttle; steady."""
    elements = Elements(circuit).parts(
        "R54", "R55", "U9", "R45", "R46", "R47", "D13", "R51", "R52", "D14",
        *first_watch_line(circuit),
    )  # fmt: skip
    made = Deck(
        "battery, reversed battery and flyback on a watch line",
        elements.text(),
        ["v_vbus vbus 0 5", "v_logic n3v3 0 3.3", "v_vref vref 0 3.3", "v_w1 w1 0 0",
         "v_bat batn 0 0", "v_thr throttle 0 0", *OTHER_WATCH_LINES],
    )  # fmt: skip
    for volts in WATCH_LEAD_V:
        made.op([f"v_w1 = {volts}", f"v_bat = {volts}", f"v_thr = {volts}"],
                ["v(w1_c)", "i(v_w1)", "i(v_bat)", "i(v_thr)"])  # fmt: skip
    found = made.run()
    compared_v, others_a = found[:, 0], found[:, 2:]
    at_14_v_a = found[WATCH_LEAD_V.index(14.0), 1]
    return [
        Row("watch line -40..60 V: comparator input, highest", float(compared_v.max()), "V", high=30.0),
        Row("watch line -40..60 V: comparator input, lowest", float(compared_v.min()), "V", low=-0.3),
        Row("watch line 14 V: taken from the vehicle", float(abs(at_14_v_a)) * 1e6, "uA", high=60.0),
        Row("battery negative and throttle, -40..60 V: current", float(np.abs(others_a).max()) * 1e3,
            "mA", high=2.0, note="what the chips' own diodes stand"),
    ]  # fmt: skip


def discharge_deck(circuit: Circuit, lead: str) -> Deck:
    """8 kV from 150 pF through 330 ohm into a lead's terminal, relay energised."""
    blocks = Elements(circuit, {"K1": "energised"}).parts("K1", "D8", "D9", "K2", "K3", "F2", "RS1")
    blocks.parts("R28", "R29", "R30", "R31", "U6", "R54", "R55", "U9", *first_watch_line(circuit))
    made = Deck(
        f"electrostatic discharge into {lead}",
        blocks.text(),
        ["v_vbus vbus 0 5", "v_logic n3v3 0 3.3", "r_ohm ohm 0 1e8", "r_net net 0 10k",
         "r_thr thr_div 0 470k", "r_buf node_buf 0 10k", "r_w1 w1 0 1e8", "r_line line 0 1e8",
         *OTHER_WATCH_LINES,
         "c_gun gun 0 150p ic=8000", "r_gun gun tip 330",
         ".model hit sw(vt=0.5 vh=0 ron=0.1 roff=1e12)", f"s_hit tip {lead} hit 0 hit",
         "v_hit hit 0 pwl(0 0 10n 0 11n 1)"],
    )  # fmt: skip
    made.tran("0.2n 400n 0 0.2n uic", [f"v({lead})", "v(node_div)", "v(w1_c)"])
    return made


def discharge_rows(circuit: Circuit) -> list[Row]:
    line = discharge_deck(circuit, "line").run()
    watch = discharge_deck(circuit, "w1").run()
    peak = float(np.abs(line[1]).max())
    return [
        Row("8 kV discharge into LINE: at K2 and K3", peak, "V", high=60.0,
            note=f"{(8000 - peak) / 330:.0f} A for 50 ns; by the data sheet's slope"),
        Row("8 kV into LINE: node buffer's input", float(np.abs(line[2]).max()), "V", high=4.2),
        Row("8 kV into a watch line: comparator input", float(watch[3].max()), "V", high=36.0,
            note=f"{np.abs(watch[1]).max():.0f} V at the terminal"),
    ]  # fmt: skip
