"""Mistakes that a builder makes, planted into the circuit data: each must be found.

A plant is a function from a good circuit to a bad one. `python hardware/prove.py --plant NAME`
runs the proofs on the bad one and must fail; a test does so for all of them.
"""

from __future__ import annotations

from collections.abc import Callable

from circuit.model import Circuit, catalogue

from . import accuracy, battery, coil, contacts, leads, standing
from .deck import Row


def swapped_relay_contacts(c: Circuit) -> Circuit:
    """Pole 1 of K1 with NC and NO exchanged."""
    return c.changed("K1", nets={"NC1": "NO1", "NO1": "SENS"})


def missing_pull_down(c: Circuit) -> Circuit:
    """R19 left out: the relay driver's gate floats while the carrier is in reset."""
    return c.without("R19")


def wrong_divider(c: Circuit) -> Circuit:
    """A 1 Mohm resistor where R30 wants 10 Mohm."""
    return c.changed("R30", si=1e6, value="1M")


def clamp_to_the_wrong_rail(c: Circuit) -> Circuit:
    """D1 clamps the stand-in to 3.3 V instead of VPOT: the cold end bends."""
    return c.changed("D1", nets={"K": "3V3"})


def fuse_left_out(c: Circuit) -> Circuit:
    """A wire in F2's holder."""
    return c.changed("F2", kind=catalogue()["switch"])


def pump_capacitor_too_large(c: Circuit) -> Circuit:
    """2.2 uF where C10 wants 220 nF: a hung program is let go of far too late."""
    return c.changed("C10", si=2.2e-6, value="2.2 uF")


def pots_capacitor_left_out(c: Circuit) -> Circuit:
    """C4 and C3 left out: the pots' supply falls before the relay does when USB is pulled."""
    return c.without("C4").without("C3").without("C6").without("C7").without("C8")


def hot_branch_wrong(c: Circuit) -> Circuit:
    """1.5 kohm where RH1 wants 150 ohm."""
    return c.changed("RH1", si=1500.0, value="1K5")


def trip_reference_wrong(c: Circuit) -> Circuit:
    """R36 and R37 exchanged: the trip acts inside the range of work."""
    return c.changed("R36", si=10e3).changed("R37", si=13.3e3).changed("R38", si=1e6)


def reference_resistor_wrong(c: Circuit) -> Circuit:
    """11.0 kohm where RK2 wants 11.3 kohm."""
    return c.changed("RK2", si=11.0e3, value="11K")


def led_resistor_too_large(c: Circuit) -> Circuit:
    """3.9 kohm where R14 wants 390 ohm: K2 may not close."""
    return c.changed("R14", si=3900.0, value="3K9")


def sensor_zener_missing(c: Circuit) -> Circuit:
    """D8 left out: a discharge reaches K2 and K3."""
    return c.without("D8")


PLANTS: dict[str, Callable[[Circuit], Circuit]] = {
    plant.__name__.replace("_", "-"): plant
    for plant in (
        swapped_relay_contacts, missing_pull_down, wrong_divider, clamp_to_the_wrong_rail,
        fuse_left_out, pump_capacitor_too_large, pots_capacitor_left_out, hot_branch_wrong,
        trip_reference_wrong, reference_resistor_wrong, led_resistor_too_large,
        sensor_zener_missing,
    )
}  # fmt: skip
FINDS: dict[str, Callable[[Circuit], list[Row]]] = {
    "swapped-relay-contacts": contacts.changeover_rows,
    "missing-pull-down": coil.reset_rows,
    "wrong-divider": accuracy.node_rows,
    "clamp-to-the-wrong-rail": standing.terminal_rows,
    "fuse-left-out": battery.fault_rows,
    "pump-capacitor-too-large": coil.pump_rows,
    "pots-capacitor-left-out": coil.unplugged_rows,
    "hot-branch-wrong": standing.current_rows,
    "trip-reference-wrong": contacts.threshold_rows,
    "reference-resistor-wrong": accuracy.ohm_rows,
    "led-resistor-too-large": contacts.edge_rows,
    "sensor-zener-missing": leads.discharge_rows,
}
"""The simulation that must notice each plant, whatever the rule check says."""
