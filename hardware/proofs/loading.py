"""What the board at rest does to the sensor's line, switched on and dead."""

from __future__ import annotations

import itertools

import numpy as np
from circuit.model import Circuit
from circuit.spice import Elements

from .bench import (
    BOARD_LEAK_OHM,
    CURVES,
    LEAD_OHM,
    PULL_UPS_OHM,
    TEMPERATURES_C,
    believed_c,
    module,
    ohm_seen,
)
from .deck import Deck, Row

VOC_V = 5.0
BLOCKS = ("contacts", "node")
CASES = list(itertools.product(CURVES, TEMPERATURES_C, PULL_UPS_OHM))


def deck(circuit: Circuit, powered: bool) -> Deck:
    """Operating points of LINE for every curve, temperature and pull-up, relay at rest."""
    elements = Elements(circuit, {"K1": "rest"}).blocks("pots", *BLOCKS)
    volts = (5.0, 3.3, 5.3) if powered else (0.0, 0.0, 0.0)
    sources = [f"v_{n} {n} 0 {v}" for n, v in zip(("vbus", "n3v3", "vpot"), volts, strict=True)]
    made = Deck(
        f"loading of the sensor line at rest, board {'powered' if powered else 'dead'}",
        elements.text(),
        [
            *sources,
            f"r_vref vref n3v3 {10}",
            *(f"v_g{n} {net} 0 {volts[1]}" for n, net in enumerate(RANGES)),
            *(f"v_off{n} {net} 0 0" for n, net in enumerate(("conn", "short", "hot1", "hot2"))),
            "r_idle1 coil_p 0 1e9",
            "r_idle2 thr_div 0 1e6",
            f"r_board line 0 {BOARD_LEAK_OHM}",
            "r_sensor sens 0 1k",
            *module(1000.0, VOC_V),
        ],
    )
    for curve, celsius, pull_up in CASES:
        ohm = CURVES[curve].resistance_ohm(celsius)
        made.op([f"r_sensor = {ohm:.9g}", f"r_module = {pull_up}"], ["v(line)"])
    return made


RANGES = ("range_1k5", "range_12k", "range_100k")


def errors_k(volts: np.ndarray) -> np.ndarray:
    """Kelvin between what the module takes the sensor for and what it is."""
    found = []
    for (curve, celsius, pull_up), volt in zip(CASES, volts, strict=True):
        found.append(believed_c(curve, ohm_seen(VOC_V, pull_up, volt)) - celsius)
    return np.abs(found)


def rows(circuit: Circuit) -> list[Row]:
    judged = []
    for powered in (True, False):
        error = errors_k(deck(circuit, powered).run()[:, 0])
        at = CASES[int(np.argmax(error))]
        judged.append(
            Row(
                f"loading, board {'powered' if powered else 'dead'}, -20..120 degC, 1-10 kohm",
                float(error.max()),
                "K",
                high=0.1,
                note=f"worst: curve {at[0]}, {at[1]:g} degC, {at[2] / 1000:g} kohm",
            )  # fmt: skip
        )
    contact = circuit["K1"].kind.figures["contact_ohm"]
    series = LEAD_OHM + contact + 0.02
    slope = abs(CURVES["B"].slope_ohm_per_k(120.0))
    judged.append(
        Row("leads 3 m of 1 mm2 each way, contact, two plugs", series, "ohm", high=0.25,
            note=f"{series / slope:.3f} K at 120 degC on B")
    )  # fmt: skip
    return judged
