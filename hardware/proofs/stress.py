"""Currents while standing in, terminals inside the rails, and what wrong connections do."""

from __future__ import annotations

import numpy as np
from circuit.model import Circuit
from circuit.spice import Elements

from .bench import PULL_UPS_OHM, module
from .deck import Deck, Row

HOT_TARGET_OHM = 66.0
WIPERS = ("0", "1")
STANDING = {"K1": "energised", "K2": "on", "K3": "off"}
STAND_IN_BLOCKS = ("pots", "contacts")
PLAN_MA = 1.4


def rows(circuit: Circuit) -> list[Row]:
    return [
        *current_rows(circuit), *terminal_rows(circuit), *battery_rows(circuit),
        *lead_rows(circuit), *discharge_rows(circuit),
    ]  # fmt: skip


def _stand_in(circuit: Circuit, wiper_ohm, hot_v: float, vpot_v: float = 5.3) -> Elements:
    pots = {ref: (wiper_ohm, wiper_ohm) for ref in ("U1", "U2")}
    return Elements(circuit, {**STANDING, **pots}).blocks(*STAND_IN_BLOCKS)


def _still(*, vpot: str | None, hot_v: float = 0.0) -> list[str]:
    """Everything of the stand-in's bench that does not move."""
    lines = [f"v_hot1 hot1 0 {hot_v}", f"v_hot2 hot2 0 {hot_v}", "v_logic n3v3 0 3.3"]
    lines += ["v_conn conn 0 3.3", "v_short short 0 0", "v_trip trip_n 0 0", "r_ohm ohm 0 1e8"]
    return [*lines, f"v_vpot vpot 0 {vpot}"] if vpot else lines


def current_deck(circuit: Circuit) -> Deck:
    """Standing in at the hot end, both hot branches on and the four wipers alike."""
    made = Deck(
        "currents at the hot end",
        _stand_in(circuit, 170.0, 3.3).text(),
        [*_still(vpot="5.3", hot_v=3.3), *module(1000.0)],
    )
    for pull_up in PULL_UPS_OHM:
        made.op(
            [f"r_module = {pull_up}"],
            ["i(v_u1_0)", "i(v_u1_1)", "i(v_u2_0)", "i(v_u2_1)", "v(line)", "i(v_module)"],
        )
    return made


def current_rows(circuit: Circuit) -> list[Row]:
    found = current_deck(circuit).run()
    judged = []
    for pull_up, row in zip(PULL_UPS_OHM, found, strict=True):
        wiper_ma = float(np.max(np.abs(row[:4]))) * 1e3
        ohm = row[4] / -row[5]
        judged.append(
            Row(f"largest wiper current at the hot end, pull-up {pull_up / 1e3:g} kohm", wiper_ma,
                "mA", high=PLAN_MA, note=f"stand-in {ohm:.1f} ohm, whole {-row[5] * 1e3:.2f} mA")
        )  # fmt: skip
    floor = _floor_ohm(circuit)
    judged.append(
        Row(
            "stand-in's floor: hot on, wipers at 160 ohm",
            floor,
            "ohm",
            high=HOT_TARGET_OHM,
            note="1.5 more with a K2 at its maximum; what was calibrated counts",
        )
    )
    return judged


def _floor_ohm(circuit: Circuit) -> float:
    made = Deck(
        "floor of the stand-in",
        _stand_in(circuit, 160.0, 3.3).text(),
        [*_still(vpot="5.3", hot_v=3.3), *module(1000.0)],
    )
    made.op([], ["v(line)", "i(v_module)"])
    volts, amps = made.run()[0]
    return float(volts / -amps)


def terminal_rows(circuit: Circuit) -> list[Row]:
    """NET at the cold end with the weakest VPOT and the strongest module that are accepted."""
    made = Deck(
        "terminals inside the rails",
        _stand_in(circuit, None, 0.0).text(),
        [*_still(vpot="5.15"), *module(1000.0, 5.3)],
    )
    for ohm in (1e12, 320e3):  # all four out; all four at the cold end, 80 kohm together
        made.op(
            [f"r_{ref}_{w} = {ohm}" for ref in ("u1", "u2") for w in WIPERS],
            ["v(net)", "v(line)", "i(v_module)", "v(n3v3)"],
        )
    out, cold = made.run()
    seen = cold[1] / -cold[2]
    return [
        Row("NET above VPOT, all wipers out, Voc 5.3 V, VPOT 5.15 V", float(out[0] - 5.15), "V",
            high=0.3, note="0.3 V is the chips' absolute limit"),
        Row("NET above VPOT at 80 kohm", float(cold[0] - 5.15), "V", high=0.15),
        Row("80 kohm as the module sees it", float(seen / 1e3), "kohm", 79.0, 81.0,
            note="what a clamp to a lower rail would bend"),
    ]  # fmt: skip


def battery_deck(circuit: Circuit, volts: float, shorted: bool = False) -> Deck:
    """A battery on LINE while standing in, from 1 ms on; the board's own trip is left to act."""
    pots = {ref: (4000.0, 4000.0) for ref in ("U1", "U2")}
    states = {"K1": "energised", "K2": "led", "K3": "led", **pots}
    elements = Elements(circuit, states, "low")
    elements.blocks("pots", "contacts", "node").parts(
        "C4", "C3", "D7", "U5", "R1", "R2", "Q11", "R3"
    )
    made = Deck(
        f"battery of {volts:g} V on the line while standing in",
        elements.text(),
        ["v_usb vbus 0 5", "v_logic n3v3 0 3.3", "v_hot1 hot1 0 0", "v_hot2 hot2 0 0",
         "v_conn conn 0 3.3", f"v_short short 0 {3.3 if shorted else 0}", "r_ohm ohm 0 1e8",
         "r_thr thr_div 0 470k", "r_adc vref 0 30k", "r_sens sens 0 1e6",
         *module(1000.0), f"v_bat bat 0 pwl(0 2.5 19.9m 2.5 20m {volts} 1 {volts})",
         "r_bat bat fault 0.05",
         # the battery's wire touches the line at 20 ms
         ".model touch sw(vt=0.5 vh=0 ron=1m roff=1e12)", "s_touch fault line touch 0 touch",
         "v_touch touch 0 pwl(0 0 20m 0 20.001m 1)"],
    )  # fmt: skip
    reads = ["v(vpot)", "v(trip)", "v(line)", "v(g_k2)", "v(no1)", "v(net)",
             *(f"i(v_{ref}_{w}c)" for ref in ("u1", "u2") for w in WIPERS), "v(fused)", "v(g_k3)"]  # fmt: skip
    made.tran("20u 60m 0 20u", reads)
    return made


def battery_rows(circuit: Circuit) -> list[Row]:
    judged = []
    for volts in (14.5, 28.0, -14.5):
        data = battery_deck(circuit, volts).run()
        after = data[0] > 20.05e-3
        clamp_ma = float(np.max(np.abs(data[7:11, after]))) * 1e3
        judged += [
            Row(f"{volts:g} V on LINE standing in: each pot's own clamp", clamp_ma, "mA",
                high=20.0, note="for under half a millisecond; D1 and D2 take the rest"),
            Row(f"{volts:g} V on LINE standing in: VPOT at most", float(data[1].max()), "V",
                high=7.0, note="7 V is the pots' absolute limit"),
        ]  # fmt: skip
    judged += _short_rows(circuit)
    judged += standing_fault_rows(circuit)
    return judged


def _short_rows(circuit: Circuit) -> list[Row]:
    """Battery on LINE while a short circuit is played: K3 must live."""
    data = battery_deck(circuit, 14.5, shorted=True).run()
    time, volts = data[0], data[11]
    on_ohm, peak_a = 2.5, 1.5
    amps = np.where(data[12] > 0.5, volts / on_ohm, 0.0)
    heat = float(np.trapezoid(amps**2 * on_ohm, time)) * 1e3
    late = time > 40e-3
    return [
        Row("14.5 V while short is played: heat in K3", heat, "mJ", high=60.0,
            note=f"peak {amps.max():.1f} A; part stands {peak_a} A 100 ms = 560 mJ"),
        Row("14.5 V while short is played: still flowing after 20 ms", float(amps[late].max()),
            "A", high=0.5),
    ]  # fmt: skip


def standing_fault_rows(circuit: Circuit) -> list[Row]:
    """The same with a trip that failed: relay and K2 stay, fuse and Rs are what is left."""
    states = {
        "K1": "energised",
        "K2": "on",
        "K3": "off",
        "U1": (200.0, 200.0),
        "U2": (200.0, 200.0),
    }
    judged = []
    for volts, limit_w in ((14.5, 3.0), (28.0, None)):
        elements = Elements(circuit, states).blocks("pots", "contacts").parts("C4", "D7")
        made = Deck(
            f"{volts:g} V on the line for a second, nothing trips",
            elements.text(),
            [
                *_still(vpot=None, hot_v=3.3),
                "r_vpot vpot 0 10k",
                f"v_bat line 0 pwl(0 2.5 5m 2.5 6m {volts})",
            ],
        )
        made.tran("2m 1.5 0 5m", ["v(fused)", "v(rs_k2)", "v(vpot)"])
        _, fused, after, vpot = made.run()
        watts = (fused - after) ** 2 / (circuit["RS1"].si or 1)
        if limit_w:
            judged.append(
                Row(f"{volts:g} V for ever: heat in Rs", float(watts[-1]), "W", high=limit_w)
            )
        else:
            judged.append(Row(f"{volts:g} V for a second: heat left in Rs (fuse has gone)",
                              float(watts[-1]), "W", high=0.1))  # fmt: skip
            judged.append(Row("28 V, nothing trips: VPOT at most", float(vpot.max()), "V", high=7.5,
                              note="above 7 V the pots may be lost; the car is not"))  # fmt: skip
    return judged


def lead_rows(circuit: Circuit) -> list[Row]:
    """Battery, reversed battery and flyback on the other leads, steady."""
    judged = []
    elements = Elements(circuit, {"K1": "energised"}).parts("K1", "D9", "R3").blocks("ohmmeter")
    made = Deck(
        "battery on the real sensor's lead while standing in",
        elements.text(),
        ["v_logic n3v3 0 3.3", "r_line line 0 1k", "r_no1 no1 0 1e8", "v_sens sens 0 0",
         "v_r1 range_1k5 0 0", "v_r2 range_12k 0 3.3", "v_r3 range_100k 0 3.3", "r_adc vref 0 30k"],
    )  # fmt: skip
    for volts in (14.5, -14.5, 28.0):
        made.op([f"v_sens = {volts}"], ["i(v_sens)", "v(ohm_s)", "v(force)"])
    for volts, row in zip((14.5, -14.5, 28.0), made.run(), strict=True):
        rpf_w = (volts - row[2]) ** 2 / (circuit["RPF1"].si or 1)
        judged += [
            Row(f"{volts:g} V on SENS, ohmmeter on: heat in Rpf", float(rpf_w), "W",
                high=0.5 if abs(volts) < 20 else 1.0, note=f"{abs(row[0]) * 1e3:.1f} mA"),
            Row(f"{volts:g} V on SENS: into D6 and CH0 together",
                abs(volts - row[1]) / (circuit["R27"].si or 1) * 1e3, "mA", high=3.0,
                note="2 mA is the chip's, D6 takes most"),
        ]  # fmt: skip
    refs = [p.ref for p in circuit.of_block("watch") if "110" <= p.ref[1:] <= "119"]
    watch = Deck(
        "battery, reversed battery and flyback on a watch line",
        Elements(circuit).parts("R54", "R55", "U9", "R45", "R46", "R47", "D13", "R51", "R52", "D14",
                                *refs).text(),
        ["v_vbus vbus 0 5", "v_logic n3v3 0 3.3", "v_vref vref 0 3.3", "v_w1 w1 0 0",
         "v_bat batn 0 0", "v_thr throttle 0 0",
         *(f"r_w{n} w{n}_c 0 1e6" for n in (2, 3, 4)),
         *(f"r_p{n} watch{n} 0 1e6" for n in (2, 3, 4))],
    )  # fmt: skip
    levels = (60.0, 14.0, -14.5, -40.0)
    for volts in levels:
        watch.op([f"v_w1 = {volts}", f"v_bat = {volts}", f"v_thr = {volts}"],
                 ["v(w1_c)", "i(v_w1)", "i(v_bat)", "i(v_thr)"])  # fmt: skip
    found = watch.run()
    judged += [
        Row("watch line -40..60 V: comparator input, highest", float(found[:, 0].max()), "V", high=30.0),
        Row("watch line -40..60 V: comparator input, lowest", float(found[:, 0].min()), "V", low=-0.3),
        Row("watch line 14 V: taken from the vehicle", float(abs(found[1, 1])) * 1e6, "uA", high=60.0),
        Row("battery negative and throttle, -40..60 V: current", float(np.abs(found[:, 2:]).max()) * 1e3,
            "mA", high=2.0, note="what the chips' own diodes stand"),
    ]  # fmt: skip
    return judged


def discharge_deck(circuit: Circuit, lead: str) -> Deck:
    """8 kV from 150 pF through 330 ohm into a lead's terminal, relay energised."""
    blocks = Elements(circuit, {"K1": "energised"}).parts("K1", "D8", "D9", "K2", "K3", "F2", "RS1")
    refs = [p.ref for p in circuit.of_block("watch") if "110" <= p.ref[1:] <= "119"]
    blocks.parts("R28", "R29", "R30", "R31", "U6", "R54", "R55", "U9", *refs)
    made = Deck(
        f"electrostatic discharge into {lead}",
        blocks.text(),
        ["v_vbus vbus 0 5", "v_logic n3v3 0 3.3", "r_ohm ohm 0 1e8", "r_net net 0 10k",
         "r_thr thr_div 0 470k", "r_buf node_buf 0 10k", "r_w1 w1 0 1e8", "r_line line 0 1e8",
         *(f"r_w{n} w{n}_c 0 1e6" for n in (2, 3, 4)),
         *(f"r_p{n} watch{n} 0 1e6" for n in (2, 3, 4)),
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
