"""Standing in: currents of the wipers, the lowest resistance, terminals inside the rails."""

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
    return [*current_rows(circuit), *terminal_rows(circuit)]


def stand_in(circuit: Circuit, wiper_ohm: float | None) -> Elements:
    """The stand-in at the module's line, its four wipers alike; None: all out."""
    pots = {ref: (wiper_ohm, wiper_ohm) for ref in ("U1", "U2")}
    return Elements(circuit, {**STANDING, **pots}).blocks(*STAND_IN_BLOCKS)


def still(*, vpot: str | None, hot_v: float = 0.0) -> list[str]:
    """Everything of the stand-in's bench that does not move."""
    lines = [f"v_hot1 hot1 0 {hot_v}", f"v_hot2 hot2 0 {hot_v}", "v_logic n3v3 0 3.3"]
    lines += ["v_conn conn 0 3.3", "v_short short 0 0", "v_trip trip_n 0 0", "r_ohm ohm 0 1e8"]
    return [*lines, f"v_vpot vpot 0 {vpot}"] if vpot else lines


def current_deck(circuit: Circuit) -> Deck:
    """Standing in at the hot end, both hot branches on and the four wipers alike."""
    made = Deck(
        "currents at the hot end",
        stand_in(circuit, 170.0).text(),
        [*still(vpot="5.3", hot_v=3.3), *module(1000.0)],
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
        stand_in(circuit, 160.0).text(),
        [*still(vpot="5.3", hot_v=3.3), *module(1000.0)],
    )
    made.op([], ["v(line)", "i(v_module)"])
    volts, amps = made.run()[0]
    return float(volts / -amps)


def terminal_rows(circuit: Circuit) -> list[Row]:
    """NET at the cold end with the weakest VPOT and the strongest module that are accepted."""
    made = Deck(
        "terminals inside the rails",
        stand_in(circuit, None).text(),
        [*still(vpot="5.15"), *module(1000.0, 5.3)],
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
