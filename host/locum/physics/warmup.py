"""How coolant and fluid warm up and cool down: enough physics for a believable profile.

One lump of heat with one loss: ``T(t) = Tinf + (T0 - Tinf) exp(-t/tau)``. On coolant the thermostat cuts the
rise off; after switching off, a sensor near hot metal rises before it falls (heat soak).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from locum.errors import Refused, Remark
from locum.physics.curve_base import Value, like


def warmup_c(t_s: Value, start_c: float, end_c: float, tau_s: float) -> Any:
    """Temperature of one lump a time after the start. [degC]

    Parameters
    ----------
    t_s : float or array
        Time since the start, zero or more. [s]
    start_c, end_c : float
        Temperature at the start, and the one approached. [degC]
    tau_s : float
        Time constant, above zero. [s]
    """
    _above_zero("tau_s", tau_s)
    t = np.asarray(t_s, dtype=float)
    return like(t_s, end_c + (start_c - end_c) * np.exp(-t / tau_s))


def tau_s(start_c: float, end_c: float, at_c: float, after_s: float) -> float:
    """Time constant of a lump that has reached ``at_c`` after ``after_s``. [s]

    ``t / ln((Tinf - T0)/(Tinf - T))``. Raises Refused unless ``at_c`` lies between start and end.
    """
    _above_zero("after_s", after_s)
    gone, left = end_c - start_c, end_c - at_c
    if gone == 0 or not 0 < left / gone < 1:
        raise Refused(
            Remark(
                "not_on_the_way",
                "warm-up",
                f"a temperature between {start_c:g} and {end_c:g} degC",
                f"{at_c:g} degC",
                "raise the temperature that is approached",
            )
        )
    return after_s / math.log(gone / left)


def reaches_s(start_c: float, end_c: float, at_c: float, time_constant_s: float) -> float:
    """Time at which a lump passes a temperature between start and end. [s]"""
    unit = tau_s(start_c, end_c, at_c, 1.0)
    return time_constant_s / unit


def start_slope_k_per_s(start_c: float, end_c: float, time_constant_s: float) -> float:
    """Slope at the start, the steepest of the warm-up. [K/s]"""
    _above_zero("tau_s", time_constant_s)
    return (end_c - start_c) / time_constant_s


def lagging_c(t_s: Value, rate_k_per_s: float, lag_s: float, start_c: float = 0.0) -> Any:
    """Reading of a sensor of first-order lag on a ramp that begins at t = 0. [degC]

    Settles ``rate * lag`` behind the ramp.
    """
    _above_zero("lag_s", lag_s)
    t = np.maximum(np.asarray(t_s, dtype=float), 0.0)
    behind = rate_k_per_s * lag_s * -np.expm1(-t / lag_s)
    return like(t_s, start_c + rate_k_per_s * t - behind)


@dataclass(frozen=True)
class Coolant:
    """Numbers of a coolant warm-up; the defaults are common practice, not one vehicle's."""

    tau_s: float = 320.0
    """Time constant while the thermostat is shut. [s]"""
    unregulated_c: float = 130.0
    """Temperature it would approach if the thermostat never opened. [degC]"""
    thermostat_c: float = 82.0
    """The thermostat begins to open. [degC]"""
    dip_k: float = 4.0
    """Sag when the radiator's cold water arrives, 2 to 8 K. [K]"""
    hunt_k: float = 1.5
    """Half the swing of the hunting that follows. [K]"""
    hunt_period_s: float = 75.0
    """Period of the hunting. [s]"""
    settled_k: float = 5.0
    """Where it settles, above the opening temperature. [K]"""


def coolant_c(t_s: Value, start_c: float, coolant: Coolant = Coolant()) -> Any:
    """Coolant temperature: one lump up to the thermostat, a dip, then hunting. [degC]

    Continuous, and its slope nowhere exceeds the one-lump rise at the start for the default
    numbers. From a start above the thermostat's opening it begins in the hunting.
    """
    t = np.asarray(t_s, dtype=float)
    knee_c = coolant.thermostat_c + coolant.settled_k
    opens_s = 0.0
    if start_c < knee_c:
        opens_s = reaches_s(start_c, coolant.unregulated_c, knee_c, coolant.tau_s)
    rise = warmup_c(np.minimum(t, opens_s), start_c, coolant.unregulated_c, coolant.tau_s)
    since = np.maximum(t - opens_s, 0.0)
    phase = 2 * np.pi * since / coolant.hunt_period_s
    # 1 - exp joins dip and hunting smoothly to the knee, where both are zero.
    joined = -np.expm1(-since / coolant.hunt_period_s)
    dip = -coolant.dip_k * (since / 30.0) * np.exp(1.0 - since / 30.0)
    settled = (knee_c - rise) * joined if start_c >= knee_c else 0.0
    return like(t_s, rise + settled + dip + coolant.hunt_k * joined * np.sin(phase))


def heat_soak_c(
    t_s: Value,
    start_c: float,
    ambient_c: float,
    rise_k: float = 10.0,
    peak_s: float = 600.0,
    cooling_tau_s: float = 7200.0,
) -> Any:
    """Temperature after the engine is switched off: up by ``rise_k``, then slowly down. [degC]

    Two exponentials: heat arriving from the hot metal and heat leaving to the surroundings. The rise
    peaks at ``peak_s`` (5 to 15 min, 5 to 15 K: common practice); cooling takes ``cooling_tau_s``.
    """
    for name, value in (("peak_s", peak_s), ("cooling_tau_s", cooling_tau_s)):
        _above_zero(name, value)
    t = np.asarray(t_s, dtype=float)
    soak = _soak_amount(start_c - ambient_c, rise_k, peak_s, cooling_tau_s)
    shape = np.exp(-t / cooling_tau_s)
    arriving = t / peak_s * np.exp(1.0 - t / peak_s)
    return like(t_s, ambient_c + (start_c - ambient_c) * shape + soak * arriving)


def _soak_amount(above_k: float, rise_k: float, peak_s: float, cooling_tau_s: float) -> float:
    """Height of the arriving heat so that the curve stands ``rise_k`` up at ``peak_s``. [K]"""
    return rise_k + above_k * -math.expm1(-peak_s / cooling_tau_s)


def fitted_warmup(
    t_s: npt.ArrayLike, temperature_c: npt.ArrayLike
) -> tuple[float, float, float, float]:
    """Start, end and time constant of the lump nearest to a recorded warm-up, and the rms miss.

    For each time constant start and end are linear, so the best one is found on a fine grid in
    the logarithm of tau. Returns ``(start_c, end_c, tau_s, rms_c)``. Raises Refused for fewer than
    four readings.
    """
    t, celsius = np.asarray(t_s, dtype=float), np.asarray(temperature_c, dtype=float)
    if len(t) < 4 or t.shape != celsius.shape:
        raise Refused(Remark("too_few_points", "warm-up", "four readings or more", f"{len(t)}"))
    span = float(np.ptp(t))
    best = (np.inf, 0.0, 0.0, span)
    for tau in span * np.geomspace(0.02, 20.0, 400):
        decay = np.exp(-(t - t[0]) / tau)
        design = np.stack([1.0 - decay, decay], axis=1)
        (end, start), *_ = np.linalg.lstsq(design, celsius, rcond=None)
        miss = float(np.sqrt(np.mean((design @ [end, start] - celsius) ** 2)))
        if miss < best[0]:
            best = (miss, float(start), float(end), float(tau))
    return best[1], best[2], best[3], best[0]


def _above_zero(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise Refused(Remark("not_positive", name, "a time above zero", f"{value:g} s"))
