"""What the proofs put around the board: sensors, modules, leads, supplies."""

from __future__ import annotations

import numpy as np

from locum.physics.curve import NtcCurve

CURVES = {
    # Steinhart-Hart coefficients fitted to published tables: A a transmission fluid sensor of
    # 8 kohm at 20 degC, B a coolant sensor of 2.5 kohm at 20 degC.
    "A": NtcCurve(9.20113738e-4, 2.68650219e-4, 1.05038939e-7),
    "B": NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7),
}
PULL_UPS_OHM = (1000.0, 2490.0, 10000.0)
TEMPERATURES_C = (-20.0, 0.0, 20.0, 50.0, 80.0, 100.0, 120.0)
BOARD_LEAK_OHM = 1e9
"""Surface leakage of a clean board and connectors at LINE."""
LEAD_OHM = 0.0175 * 6.0
"""Signal there and back, 3 m of 1 mm2 each way."""


def supplies(usb_v: float = 5.0, logic_v: float = 3.3, pots: bool = True) -> list[str]:
    """USB and the carrier's 3.3 V as sources; a dead board has both at zero, held to ground."""
    lines = [f"v_usb vbus 0 {usb_v}", f"v_logic n3v3 0 {logic_v}"]
    return lines if pots else [*lines, "r_nopots vpot 0 1e6"]


def module(pull_up_ohm: float = 1000.0, voc_v: float = 5.0, node: str = "line") -> list[str]:
    return [f"v_module open 0 {voc_v}", f"r_module open {node} {pull_up_ohm}"]


def ohm_seen(voc_v, rth_ohm, node_v):
    """The resistance a module takes for its sensor's, from its node voltage."""
    node_v = np.asarray(node_v)
    return rth_ohm * node_v / np.maximum(voc_v - node_v, 1e-9)


def believed_c(curve: str, ohm):
    """Temperature a module takes `ohm` for; an open or shorted line reads as the curve's end."""
    return CURVES[curve].temperature_c(np.clip(np.asarray(ohm, float), 20.0, 3e6))
