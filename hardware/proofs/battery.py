"""A battery on the line while standing in: with the board's trip, and with a trip that failed."""

from __future__ import annotations

import numpy as np
from circuit.model import Circuit
from circuit.spice import Elements

from .bench import module
from .deck import Deck, Row
from .standing import STAND_IN_BLOCKS, STANDING, WIPERS, still


def rows(circuit: Circuit) -> list[Row]:
    return [*trip_rows(circuit), *short_rows(circuit), *fault_rows(circuit)]


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


def trip_rows(circuit: Circuit) -> list[Row]:
    """A battery on LINE while standing in: what the pots bear until the board lets go."""
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
    return judged


def short_rows(circuit: Circuit) -> list[Row]:
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


def fault_rows(circuit: Circuit) -> list[Row]:
    """The same with a trip that failed: relay and K2 stay, fuse and Rs are what is left."""
    for_ever_w, _ = _without_trip(circuit, 14.5)
    left_w, vpot = _without_trip(circuit, 28.0)
    return [
        Row("14.5 V for ever: heat in Rs", for_ever_w, "W", high=3.0),
        Row("28 V for a second: heat left in Rs (fuse has gone)", left_w, "W", high=0.1),
        Row("28 V, nothing trips: VPOT at most", vpot, "V", high=7.5,
            note="above 7 V the pots may be lost; the car is not"),
    ]  # fmt: skip


def _without_trip(circuit: Circuit, volts: float) -> tuple[float, float]:
    """Heat in Rs at the end [W] and the highest VPOT [V] when nothing trips."""
    states = {**STANDING, "U1": (200.0, 200.0), "U2": (200.0, 200.0)}
    made = Deck(
        f"{volts:g} V on the line for a second, nothing trips",
        Elements(circuit, states).blocks(*STAND_IN_BLOCKS).parts("C4", "D7").text(),
        [
            *still(vpot=None, hot_v=3.3),
            "r_vpot vpot 0 10k",
            f"v_bat line 0 pwl(0 2.5 5m 2.5 6m {volts})",
        ],
    )
    made.tran("2m 1.5 0 5m", ["v(fused)", "v(rs_k2)", "v(vpot)"])
    _, before, after, vpot = made.run()
    watts = (before - after) ** 2 / (circuit["RS1"].si or 1)
    return float(watts[-1]), float(vpot.max())
