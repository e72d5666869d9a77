"""Digital potentiometers as adjustable resistors: wiper to terminal B, terminal A open.

A part is a ladder of equal resistors and one switch per tap. What differs between parts is the
divisor (256 steps of 256 resistors, or 255), what code reaches terminal A, whether a terminal can
be disconnected, and the resistance that stays at code 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class PotPart:
    """What a data sheet says of one part."""

    name: str
    channels: int
    taps: int
    """Codes that differ, 0..taps-1."""
    divisor: int
    """Steps between terminals: one step is rab_ohm / divisor."""
    rab_options_ohm: tuple[float, ...]
    rab_tolerance_pct: float
    zero_ohm: float
    """Typical resistance left at code 0. [ohm]"""
    zero_max_ohm: float
    """The same at worst, 5 V supply. [ohm]"""
    rating_a: float
    """Highest continuous current of a terminal. [A]"""
    supply_v: tuple[float, float]
    """Analogue supply, lowest and highest. [V]"""
    can_leave: bool
    """A single terminal can be disconnected, so that the branch is open."""
    shutdown_is_short: bool
    """The shutdown bit joins wiper and B: near a short, never an open."""
    over_range: str = "full"
    """Codes above the last: "full" act as the last, "refused" never to be sent."""
    source: str = ""
    confidence: str = ""
    from_memory: tuple[str, ...] = ()
    """Keys of the parts file that nobody saw in a document; check before relying on them."""

    @property
    def last_code(self) -> int:
        return self.taps - 1

    def table_ohm(self, rab_ohm: float, zero_ohm: float | None = None) -> np.ndarray:
        """Nominal resistance of every code; see :func:`rheostat_table_ohm`."""
        zero = self.zero_ohm if zero_ohm is None else zero_ohm
        return rheostat_table_ohm(rab_ohm, zero, self.taps, self.divisor)


def rheostat_table_ohm(
    rab_ohm: float, zero_ohm: float, taps: int, divisor: int | None = None
) -> np.ndarray:
    """Resistance wiper to B of every code: rab * code / divisor + zero.

    Parameters
    ----------
    rab_ohm : float
        End-to-end resistance, above zero. [ohm]
    zero_ohm : float
        Wiper (and terminal) resistance that stays at code 0, zero or more. [ohm]
    taps : int
        Number of codes, at least 2.
    divisor : int, optional
        Number of steps between the terminals; default ``taps - 1``, a true full scale.

    Returns
    -------
    float array [taps]
        Strictly rising. [ohm]

    Raises
    ------
    ValueError
        If a value is outside its range.
    """
    steps = taps - 1 if divisor is None else divisor
    if not (rab_ohm > 0 and zero_ohm >= 0 and taps >= 2 and steps >= taps - 1):
        raise ValueError(f"no rheostat has rab {rab_ohm}, zero {zero_ohm}, {taps} taps, /{steps}")
    return rab_ohm * np.arange(taps) / steps + zero_ohm


def wiper_law(net_v, supply_v: float):
    """Growth of a wiper switch's resistance with its voltage, 1 at 0 V (reference circuit: a transmission
    gate whose n half fades as the wiper rises and whose p half takes over).

    Parameters
    ----------
    net_v : float or array
        Voltage on the wiper, 0..supply_v. [V]
    supply_v : float
        Supply of the potentiometer, above 2 V. [V]

    Returns
    -------
    float or array
        Resistance as a multiple of the one at 0 V, at most about 1.6 at 5.3 V.
    """
    threshold_n, threshold_p, slope = 0.8, 0.9, 1.15
    at_zero = supply_v - threshold_n
    n_half = np.maximum(at_zero - slope * np.asarray(net_v, float), 0.0)
    p_half = np.maximum(np.asarray(net_v, float) - threshold_p, 0.0)
    # Near the crossing of low supplies both halves are nearly off; a floor keeps the law finite.
    growth = at_zero / np.maximum(n_half + p_half, 0.2 * at_zero)
    return float(growth) if np.ndim(growth) == 0 else growth
