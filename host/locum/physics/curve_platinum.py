"""Platinum resistance thermometers by IEC 60751 (Callendar and Van Dusen's equations).

``R = R0 (1 + A t + B t^2)`` from 0 degC up and ``R = R0 (1 + A t + B t^2 + C (t - 100) t^3)`` below,
t in degC, -200 to 850 degC. Coefficients: IEC 60751:2008 (alpha 0.003851), as in
tests/published/data/callendar_van_dusen.toml.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

import numpy as np

from locum.errors import Misuse, Refused, Remark
from locum.physics.curve_base import Curve, Value, like
from locum.physics.inverse import solve_rising

IEC_A, IEC_B, IEC_C = 3.9083e-3, -5.775e-7, -4.183e-12

TOLERANCE_CLASSES = {
    # class: (K at 0 degC, K per degC, lowest degC, highest degC) of wire-wound elements.
    # A and B as printed in amendment 2 of IEC 751; AA, C and the ranges are from memory.
    "AA": (0.10, 0.0017, -50.0, 250.0),
    "A": (0.15, 0.002, -100.0, 450.0),
    "B": (0.30, 0.005, -196.0, 600.0),
    "C": (0.60, 0.010, -196.0, 600.0),
}


@dataclass(frozen=True)
class PlatinumCurve(Curve):
    """A platinum sensor: R0 is its own, A, B and C are the standard's."""

    kind: ClassVar[str] = "platinum"

    r0_ohm: float = 100.0
    """Resistance at 0 degC. [ohm]"""
    u_r0_ohm: float = 0.0
    """Standard uncertainty of R0. [ohm]"""
    a: float = IEC_A
    b: float = IEC_B
    c: float = IEC_C
    span_c: tuple[float, float] = (-200.0, 850.0)
    u_form_c: float = 0.0
    domain_c: tuple[float, float] = field(default=(-200.0, 850.0), init=False)

    def __post_init__(self) -> None:
        if not (np.isfinite(self.r0_ohm) and self.r0_ohm > 0):
            raise Refused(
                Remark(
                    code="bad_coefficient",
                    where="r0_ohm",
                    wanted="a resistance at 0 degC above zero",
                    found=f"{self.r0_ohm:g} ohm",
                    remedy="check the sheet",
                )
            )

    @property
    def coefficients(self) -> dict[str, float]:
        return {"r0_ohm": self.r0_ohm, "a": self.a, "b": self.b, "c": self.c}

    def ratio(self, celsius: np.ndarray) -> np.ndarray:
        """R/R0 at a temperature."""
        below = self.c * (celsius - 100.0) * celsius**3 * (celsius < 0)
        return 1.0 + celsius * (self.a + celsius * self.b) + below

    def _ratio_slope(self, celsius: np.ndarray) -> np.ndarray:
        below = self.c * celsius**2 * (4.0 * celsius - 300.0) * (celsius < 0)
        return self.a + 2.0 * self.b * celsius + below

    def _ohm(self, celsius: np.ndarray) -> np.ndarray:
        return self.r0_ohm * self.ratio(celsius)

    def _celsius(self, ohm: np.ndarray) -> np.ndarray:
        # Beyond the standard's range the equations have no root: its end is the nearest.
        ratio = np.clip(ohm / self.r0_ohm, *self.ratio(np.array(self.domain_c)))
        # The stable form of the quadratic's root: no difference of nearly equal numbers near 0.
        root = np.sqrt(self.a**2 + 4.0 * self.b * (ratio - 1.0))
        above = 2.0 * (ratio - 1.0) / (self.a + root)
        if np.all(ratio >= 1.0):
            return above
        below = ratio < 1.0
        solved = np.array(above)
        solved[below] = solve_rising(
            self.ratio, self._ratio_slope, ratio[below], self.domain_c[0], 0.0, above[below]
        )
        return solved

    def _slope(self, celsius: np.ndarray, ohm: np.ndarray) -> np.ndarray:
        return self.r0_ohm * self._ratio_slope(celsius)

    def _u_celsius(self, celsius: np.ndarray) -> np.ndarray:
        return self.u_r0_ohm / self.r0_ohm * self.ratio(celsius) / self._ratio_slope(celsius)

    def to_dict(self) -> dict[str, Any]:
        return {
            "kind": self.kind,
            "coefficients": self.coefficients,
            "span_c": list(self.span_c),
            "u_r0_ohm": self.u_r0_ohm,
            "u_form_c": self.u_form_c,
        }


def tolerance_c(tolerance_class: str, temperature_c: Value) -> Any:
    """Half-width of an IEC 60751 tolerance class at a temperature. [K]

    Parameters
    ----------
    tolerance_class : str
        ``AA``, ``A``, ``B`` or ``C``.
    temperature_c : float or array
        Temperature, within the class's range for wire-wound elements. [degC]

    Raises
    ------
    Misuse
        For another class.
    Refused
        Outside the class's range.
    """
    if tolerance_class not in TOLERANCE_CLASSES:
        raise Misuse(
            Remark(
                code="unknown_class",
                where="tolerance class",
                wanted=" or ".join(TOLERANCE_CLASSES),
                found=tolerance_class,
            )
        )
    at_zero, per_degree, low, high = TOLERANCE_CLASSES[tolerance_class]
    celsius = np.asarray(temperature_c, dtype=float)
    if not np.all((celsius >= low) & (celsius <= high)):
        raise Refused(
            Remark(
                code="outside_class",
                where=f"platinum class {tolerance_class}",
                wanted=f"{low:g} to {high:g} degC",
                found=f"{celsius.min():g} to {celsius.max():g} degC",
                remedy="the class promises nothing there",
            )
        )
    return like(temperature_c, at_zero + per_degree * np.abs(celsius))
