"""The module's input: a source behind a pull-up, and what the module believes of a resistance.

    Voc --[ Rth ]--+--( node )--[ lead + contact ]--+--[ R ]--+
                   |                                          |
                   +------------[ leak ]----------------------+-- return, Vg above module ground

Node voltage ``V = (Voc Rt + Vg Rth) / (Rt + Rth)``, Rt being (R + lead + contact) beside the leak. A two-stage input has a
high pull-up while cold and switches a lower one in when the node has fallen to a threshold; it goes
back with hysteresis, so which stage holds depends on what was before: pass ``stage`` to say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from locum.errors import Misuse, Refused, Remark
from locum.physics.curve_base import Value, like


@dataclass(frozen=True)
class Stage:
    """A further pull-up stage of a two-stage input."""

    rth_ohm: float
    """Source resistance while this stage holds. [ohm]"""
    below_v: float
    """It switches in when the node has fallen to this. [V]"""
    above_v: float | None = None
    """It switches out when the node, in this stage, has risen to this; None if unknown. [V]"""
    u_rth_ohm: float = 0.0
    """Standard uncertainty of ``rth_ohm``. [ohm]"""


@dataclass(frozen=True)
class Thevenin:
    """What the module shows at the sensor's connector."""

    voc_v: float
    """Open-circuit voltage. [V]"""
    rth_ohm: float
    """Source resistance; of the cold stage, where there are two. [ohm]"""
    u_voc_v: float = 0.0
    """Standard uncertainty of ``voc_v``. [V]"""
    u_rth_ohm: float = 0.0
    """Standard uncertainty of ``rth_ohm``. [ohm]"""
    stages: tuple[Stage, ...] = ()
    """The hot stage of a two-stage input, or nothing."""
    correlation: float = 0.0
    """Correlation of the errors of ``voc_v`` and ``rth_ohm``."""

    def __post_init__(self) -> None:
        faults = [
            Remark(
                "bad_source", name, "a number above zero", f"{value:g} {unit}", "check the sheet"
            )
            for name, value, unit in (
                ("voc_v", self.voc_v, "V"),
                ("rth_ohm", self.rth_ohm, "ohm"),
                *(("stage rth_ohm", stage.rth_ohm, "ohm") for stage in self.stages),
            )
            if not (math.isfinite(value) and value > 0)
        ]
        if faults:
            raise Refused(faults)

    @property
    def two_stage(self) -> bool:
        return bool(self.stages)

    def stage_rth_ohm(self, stage: int) -> float:
        """Source resistance of stage 0 (cold) or 1 (hot). [ohm]"""
        return self.rth_ohm if stage == 0 else self.stages[stage - 1].rth_ohm

    def lowest_rth_ohm(self) -> float:
        """The smallest source resistance of any stage: it drives the largest current. [ohm]"""
        return min([self.rth_ohm, *(stage.rth_ohm for stage in self.stages)])


def rth_ohm(source: Thevenin, total_ohm: Value, stage: int | None = None) -> Any:
    """Source resistance that holds at a load, coming from cold unless ``stage`` is given. [ohm]"""
    total = np.asarray(total_ohm, dtype=float)
    if stage is not None:
        _check_stage(source, stage)
        return like(total_ohm, np.full(total.shape, source.stage_rth_ohm(stage)))
    held = np.full(total.shape, source.rth_ohm)
    for following in source.stages:
        switched = _divided(source.voc_v, total, held, 0.0) <= following.below_v
        held = np.where(switched, following.rth_ohm, held)
    return like(total_ohm, held)


def node_v(
    source: Thevenin,
    resistance_ohm: Value,
    lead_ohm: Value = 0.0,
    leak_ohm: Value = math.inf,
    offset_v: Value = 0.0,
    stage: int | None = None,
) -> Any:
    """Voltage at the module's pin, against module ground. [V]

    Parameters
    ----------
    source : Thevenin
        The module's input.
    resistance_ohm : float or array
        The sensor or stand-in; 0 is a short, ``inf`` an open. [ohm]
    lead_ohm : float or array
        Leads and contacts in series. [ohm]
    leak_ohm : float or array
        Across the module's two pins: a wet connector. [ohm]
    offset_v : float or array
        The sensor return above module ground. [V]
    stage : int, optional
        Stage that holds, 0 cold or 1 hot; without it, the one reached from cold.
    """
    total = total_ohm(resistance_ohm, lead_ohm, leak_ohm)
    held = rth_ohm(source, total, stage)
    result = _divided(source.voc_v, np.asarray(total), np.asarray(held), np.asarray(offset_v))
    return float(result) if np.ndim(result) == 0 else result


def current_a(
    source: Thevenin,
    resistance_ohm: Value,
    lead_ohm: Value = 0.0,
    offset_v: Value = 0.0,
    stage: int | None = None,
) -> Any:
    """Current out of the module through the sensor. [A]"""
    total = np.asarray(total_ohm(resistance_ohm, lead_ohm))
    held = np.asarray(rth_ohm(source, total, stage))
    result = (source.voc_v - np.asarray(offset_v)) / (total + held)
    return float(result) if np.ndim(result) == 0 else result


def believed_ohm(
    source: Thevenin,
    resistance_ohm: Value,
    lead_ohm: Value = 0.0,
    leak_ohm: Value = math.inf,
    offset_v: Value = 0.0,
    stage: int | None = None,
) -> Any:
    """Resistance the module takes the sensor to have, given what lies around it. [ohm]

    The module knows its own pull-up and supply, not the leads, the leak or the offset. ``inf`` where
    the node is at or above the supply, 0 where it is at or below ground.
    """
    total = total_ohm(resistance_ohm, lead_ohm, leak_ohm)
    volts = np.asarray(node_v(source, resistance_ohm, lead_ohm, leak_ohm, offset_v, stage))
    held = np.asarray(rth_ohm(source, total, stage))
    with np.errstate(divide="ignore", invalid="ignore"):
        result = np.where(volts >= source.voc_v, np.inf, held * volts / (source.voc_v - volts))
    result = np.maximum(result, 0.0)
    return float(result) if np.ndim(result) == 0 else result


def resistance_from_node_ohm(source: Thevenin, volts: Value, stage: int = 0) -> Any:
    """Resistance that gives a node voltage, ``Rth V / (Voc - V)``. [ohm]

    Parameters
    ----------
    source : Thevenin
        The module's input.
    volts : float or array
        Node voltage against the sensor return. At or above ``voc_v`` gives ``inf``, at or below
        zero gives 0. [V]
    stage : int
        Stage that holds: a two-stage input gives one voltage for two resistances.
    """
    _check_stage(source, stage)
    node = np.asarray(volts, dtype=float)
    held = source.stage_rth_ohm(stage)
    with np.errstate(divide="ignore", invalid="ignore"):
        result = np.where(node >= source.voc_v, np.inf, held * node / (source.voc_v - node))
    return like(volts, np.maximum(result, 0.0))


def u_resistance_from_node_ohm(
    source: Thevenin, volts: Value, u_volts: Value, stage: int = 0
) -> Any:
    """Standard uncertainty of a resistance found from the node voltage. [ohm]

    The node reading's ``Rth Voc/(Voc-V)^2 u(V)`` and the Thevenin's own two parts with their
    correlation.
    """
    _check_stage(source, stage)
    node = np.asarray(volts, dtype=float)
    held = source.stage_rth_ohm(stage)
    u_held = source.u_rth_ohm if stage == 0 else source.stages[stage - 1].u_rth_ohm
    over = source.voc_v - node
    by_node = held * source.voc_v / over**2 * np.asarray(u_volts, dtype=float)
    by_voc = -held * node / over**2 * source.u_voc_v
    by_rth = node / over * u_held
    correlation = source.correlation if stage == 0 else 0.0
    variance = by_node**2 + by_voc**2 + by_rth**2 + 2 * correlation * by_voc * by_rth
    return like(volts, np.sqrt(np.maximum(variance, 0.0)))


def node_sensitivity_v_per_ohm(
    source: Thevenin, resistance_ohm: Value, stage: int | None = None
) -> Any:
    """dV/dR at the node, ``Voc Rth/(R + Rth)^2``. [V/ohm]"""
    total = np.asarray(resistance_ohm, dtype=float)
    held = np.asarray(rth_ohm(source, total, stage))
    return like(resistance_ohm, source.voc_v * held / (total + held) ** 2)


def total_ohm(resistance_ohm: Value, lead_ohm: Value = 0.0, leak_ohm: Value = math.inf) -> Any:
    """Sensor with leads in series, the leak beside both. [ohm]"""
    through = np.asarray(resistance_ohm, dtype=float) + np.asarray(lead_ohm, dtype=float)
    leak = np.asarray(leak_ohm, dtype=float)
    if np.any(through < 0) or np.any(leak < 0):
        raise Misuse(
            Remark("resistance", "circuit", "resistances of zero or more", "one below zero")
        )
    with np.errstate(divide="ignore"):
        conductance = 1.0 / through + 1.0 / leak
        result = np.where(conductance > 0, 1.0 / np.where(conductance > 0, conductance, 1), np.inf)
    return float(result) if np.ndim(result) == 0 else result


def self_heating_w(source: Thevenin, resistance_ohm: Value, stage: int | None = None) -> Any:
    """Power the module's bias puts into the sensor, at most Voc^2/(4 Rth). [W]"""
    total = np.asarray(resistance_ohm, dtype=float)
    held = np.asarray(rth_ohm(source, total, stage))
    return like(resistance_ohm, source.voc_v**2 * total / (total + held) ** 2)


def _divided(voc_v: Any, total: np.ndarray, held: np.ndarray, offset_v: Any) -> np.ndarray:
    """``(Voc Rt + Vg Rth)/(Rt + Rth)``, written so that an infinite Rt gives Voc."""
    share = 1.0 / (1.0 + held / np.where(total > 0, total, 1.0))
    share = np.where(total > 0, share, 0.0)
    return voc_v * share + offset_v * (1.0 - share)


def _check_stage(source: Thevenin, stage: int) -> None:
    if not 0 <= stage <= len(source.stages):
        raise Misuse(
            Remark(
                "no_such_stage",
                "module input",
                f"stage 0 to {len(source.stages)}",
                str(stage),
                "this input has not that many stages",
            )
        )
