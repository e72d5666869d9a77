"""Uncertainty after the GUM (JCGM 100:2008): named contributions and the budget of a set temperature.

Everything is plain numbers, so that the board's calibration can use the same functions as the
temperature budget. ``u`` is a standard uncertainty, ``U = k u`` the expanded one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from locum.errors import Misuse, Remark
from locum.physics.curve_base import Curve
from locum.physics.propagation import effective_freedom

Distribution = Literal["normal", "rectangular", "triangular", "u_shaped", "step"]

DIVISORS: dict[str, float] = {
    "normal": 2.0,  # a half-width stated as an expanded uncertainty with k = 2
    "rectangular": math.sqrt(3.0),  # GUM 4.3.7
    "triangular": math.sqrt(6.0),  # GUM 4.3.9
    "u_shaped": math.sqrt(2.0),
    "step": math.sqrt(12.0),  # a whole digital step, GUM F.2.2.1
}
"""What a half-width (for ``step`` the whole step) is divided by to give a standard uncertainty."""

Part = Literal["resistance", "curve", "tolerance"]


@dataclass(frozen=True)
class Contribution:
    """One named source of uncertainty, given by its half-width or by its standard uncertainty."""

    name: str
    half_width: float | None = None
    """Half-width of the distribution (whole step for ``step``), in ``unit``."""
    std: float | None = None
    """Standard uncertainty, in ``unit``; instead of ``half_width``."""
    distribution: Distribution = "rectangular"
    unit: Literal["ohm", "K", "relative"] = "ohm"
    """Unit of the two above; ``relative`` is a fraction of the resistance."""
    part: Part = "resistance"
    """``resistance`` belongs to both results; ``curve`` to both, as temperature; ``tolerance``
    only to the second result (what any such car would do)."""
    degrees_of_freedom: float = math.inf

    def __post_init__(self) -> None:
        given = [value for value in (self.half_width, self.std) if value is not None]
        if len(given) != 1 or not (math.isfinite(given[0]) and given[0] >= 0):
            raise Misuse(
                Remark(
                    "bad_contribution",
                    self.name,
                    "either a half-width or a standard uncertainty, zero or more",
                    f"half-width {self.half_width}, standard uncertainty {self.std}",
                )
            )

    @property
    def u(self) -> float:
        """Standard uncertainty in ``unit``."""
        if self.std is not None:
            return self.std
        assert self.half_width is not None
        return self.half_width / DIVISORS[self.distribution]


@dataclass(frozen=True)
class BudgetRow:
    """One line of a budget as it is printed."""

    name: str
    part: Part
    u_ohm: float
    u_c: float
    share: float
    """Fraction of the variance of the widest result it belongs to."""


@dataclass(frozen=True)
class Budget:
    """The uncertainty of one set temperature: of what this module saw, and of what any such car would do."""

    temperature_c: float
    resistance_ohm: float
    slope_ohm_per_k: float
    rows: tuple[BudgetRow, ...]
    u_ohm: float
    """Combined standard uncertainty of the resistance. [ohm]"""
    u_resistance_c: float
    """The same as temperature, without the curve's own. [K]"""
    u_c: float
    """First result: resistance and curve, relative to this curve. [K]"""
    expanded_c: float
    """``coverage`` times ``u_c``: what this module saw, relative to this curve. [K]"""
    u_with_tolerance_c: float
    """Second result: with the sensor's tolerance. [K]"""
    expanded_with_tolerance_c: float
    """``coverage`` times it: what any such car would do. [K]"""
    coverage: float = 2.0
    degrees_of_freedom: float = field(default=math.inf)
    """Effective, by Welch and Satterthwaite (GUM G.4.1), of the first result."""


def temperature_budget(
    curve: Curve,
    temperature_c: float,
    contributions: Sequence[Contribution],
    coverage: float = 2.0,
    resistance_ohm: float | None = None,
) -> Budget:
    """Budget of a set temperature.

    Parameters
    ----------
    curve : Curve
        Its own ``u_temperature_c`` is added as a line of its own unless a contribution of part
        ``curve`` is given.
    temperature_c : float
        The temperature set. [degC]
    contributions : sequence of Contribution
    coverage : float
        Coverage factor k.
    resistance_ohm : float, optional
        Resistance set, where it is not exactly the curve's at ``temperature_c``. [ohm]
    """
    ohm = float(curve.resistance_ohm(temperature_c)) if resistance_ohm is None else resistance_ohm
    slope = abs(float(curve.slope_ohm_per_k(temperature_c)))
    listed = _with_curve(curve, temperature_c, contributions)
    in_ohm = [_u_ohm(item, ohm, slope) for item in listed]
    total: dict[Part, float] = {"resistance": 0.0, "curve": 0.0, "tolerance": 0.0}
    for item, u_ohm in zip(listed, in_ohm, strict=True):
        total[item.part] += u_ohm**2
    first = total["resistance"] + total["curve"]
    second = first + total["tolerance"]
    of_resistance_c = math.sqrt(total["resistance"]) / slope
    u_c, u_with_tolerance_c = math.sqrt(first) / slope, math.sqrt(second) / slope
    rows = tuple(
        BudgetRow(item.name, item.part, u_ohm, u_ohm / slope, u_ohm**2 / second if second else 0.0)
        for item, u_ohm in zip(listed, in_ohm, strict=True)
    )
    of_first = [
        (u_ohm, item.degrees_of_freedom)
        for item, u_ohm in zip(listed, in_ohm, strict=True)
        if item.part != "tolerance"
    ]
    freedom = effective_freedom([u for u, _ in of_first], [freedom for _, freedom in of_first])
    return Budget(
        temperature_c=temperature_c,
        resistance_ohm=ohm,
        slope_ohm_per_k=slope,
        rows=rows,
        u_ohm=math.sqrt(total["resistance"]),
        u_resistance_c=of_resistance_c,
        u_c=u_c,
        expanded_c=coverage * math.sqrt(first) / slope,
        u_with_tolerance_c=u_with_tolerance_c,
        expanded_with_tolerance_c=coverage * math.sqrt(second) / slope,
        coverage=coverage,
        degrees_of_freedom=freedom,
    )


def _with_curve(
    curve: Curve, temperature_c: float, contributions: Sequence[Contribution]
) -> list[Contribution]:
    """The contributions, with the curve's own uncertainty unless they tell it."""
    own_c = float(curve.u_temperature_c(temperature_c))
    if own_c > 0 and not any(item.part == "curve" for item in contributions):
        return [*contributions, Contribution("curve fit", std=own_c, unit="K", part="curve")]
    return list(contributions)


def _u_ohm(item: Contribution, ohm: float, slope: float) -> float:
    return item.u * {"ohm": 1.0, "K": slope, "relative": ohm}[item.unit]


def rounded(value: float, expanded: float) -> tuple[float, float]:
    """``(value, U)`` for printing: U to two digits, never down by more than 5 %; the value to its place (common practice)."""
    if not (math.isfinite(expanded) and expanded > 0):
        return value, expanded
    places = 1 - math.floor(math.log10(expanded))
    return round(value, places), round(expanded, places)
