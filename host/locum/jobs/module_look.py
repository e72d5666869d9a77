"""What a module's input means for the stand-in: what the module will believe, what currents flow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.jobs.circuit import Circuit, open_circuit
from locum.physics.choose import choose_codes
from locum.physics.circuit import current_a, node_v

AT_C = (-20.0, 0.0, 20.0, 60.0, 90.0, 110.0)
"""Where it is told, as far as sensor and board reach. [degC]"""


@dataclass(frozen=True)
class AtTemperature:
    """The input with one value on it."""

    celsius: float
    """What it is to be told. [degC]"""
    volts: float
    """At the module's pin. [V]"""
    milliamps: float
    """Through sensor or stand-in. [mA]"""
    believed_c: float | None
    """What the module takes the stand-in's nearest setting for; None where the board cannot be it. [degC]"""
    wiper_ma: tuple[float, ...]
    """Through each wiper then; empty where the board cannot be it. [mA]"""


@dataclass(frozen=True)
class ModuleLook:
    """A module's input as measured or as its sheet says."""

    title: str
    open_v: float
    u_open_v: float
    """Standard uncertainty. [V]"""
    pull_up_ohm: float
    u_pull_up_ohm: float
    """Standard uncertainty; 0 where it is not known. [ohm]"""
    second_ohm: float | None
    """The smaller pull-up of a two-stage input when hot; None with one stage. [ohm]"""
    second_below_v: float | None
    """It takes over when the pin has fallen to this. [V]"""
    assumed: bool
    points: tuple[AtTemperature, ...]
    plan_ma: float
    """What a plan lets one wiper carry. [mA]"""
    rated_ma: float
    """What one wiper can carry at most. [mA]"""

    @property
    def worst_ma(self) -> float:
        """The largest current of any wiper among the points; 0 without a reachable one. [mA]"""
        return max((ma for point in self.points for ma in point.wiper_ma), default=0.0)


def look_at_module(
    module: str | None, sensor: str | None, board_sheet: str | None = None
) -> ModuleLook:
    """The input of a module by name or path with a sensor on it; Refused with all faults of the sheets."""
    return look_at_input(open_circuit(sensor, module, None, board_sheet))


def look_at_input(circuit: Circuit) -> ModuleLook:
    """The input of a circuit with its sensor and its board on it."""
    source, network = circuit.module.source, circuit.network
    second = source.stages[0] if source.stages else None
    return ModuleLook(
        circuit.module.title, source.voc_v, source.u_voc_v, source.rth_ohm, source.u_rth_ohm,
        second.rth_ohm if second else None, second.below_v if second else None,
        circuit.module.assumed, _points(circuit), 1000 * network.plan_wiper_a,
        1000 * min(wiper.rating_a for wiper in network.wipers),
    )  # fmt: skip


def _points(circuit: Circuit) -> tuple[AtTemperature, ...]:
    curve, source, network = circuit.sensor.curve, circuit.module.source, circuit.network
    low_c, high_c = curve.domain_c
    celsius = [c for c in AT_C if low_c <= c <= high_c]
    low_ohm, high_ohm = network.reach_ohm
    made = []
    for at_c in celsius:
        ohm = float(curve.resistance_ohm(at_c))
        believed_c, wiper_ma = None, ()
        if low_ohm <= ohm <= high_ohm:
            choice = choose_codes(network, np.array([ohm]), source)
            believed_c = float(curve.temperature_c(float(choice.set_ohm[0])))
            wiper_ma = tuple(1000 * float(a) for a in choice.wiper_a[0])
        made.append(
            AtTemperature(at_c, float(node_v(source, ohm)), 1000 * float(current_a(source, ohm)),
                          believed_c, wiper_ma)
        )  # fmt: skip
    return tuple(made)
