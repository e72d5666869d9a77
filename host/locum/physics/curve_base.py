"""What every sensor curve has in common: ranges, refusals, scalars in and scalars out.

A curve's own formulas see arrays only and never check anything; the public methods here check the
range first. Two ranges are kept apart. ``span_c`` is where the curve has points: outside it the
curve is a guess, which is warned about. ``domain_c`` is where its formula means anything (above
absolute zero by a margin, one ohm value for each temperature): outside it is refused.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Any, ClassVar

import numpy as np
import numpy.typing as npt

from locum.errors import Refused, Remark

KELVIN = 273.15
"""Zero degrees Celsius. [K]"""

Value = float | npt.ArrayLike

THERMISTOR_DOMAIN_C = (-100.0, 400.0)
"""Widest range in which a thermistor or silicon curve is evaluated at all. [degC]

Chosen: beads are sold for -80 to 350 degC at most (common practice); beyond 400 degC or below
-100 degC no formula fitted to a vehicle sensor means anything.
"""


END_SLACK = 1e-4
"""Share by which a resistance may lie beyond the domain's ends and still be taken as the end."""


def like(value: Value, result: np.ndarray) -> Any:
    """``result`` as a float where ``value`` was a scalar, as an array where it was one."""
    return float(result) if np.ndim(value) == 0 else result


class Curve(ABC):
    """A sensor's resistance against its temperature, both ways.

    Every method takes a float and gives a float, or takes an array (any shape) and gives an
    array of that shape.
    """

    kind: ClassVar[str]
    span_c: tuple[float, float]
    """Lowest and highest temperature the curve has points for. [degC]"""
    domain_c: tuple[float, float]
    """Lowest and highest temperature the formula can be used for. [degC]"""
    u_form_c: float = 0.0
    """Standard uncertainty left by the form itself: what the points miss beyond their rounding. [K]"""

    @abstractmethod
    def _ohm(self, celsius: np.ndarray) -> np.ndarray: ...

    @abstractmethod
    def _celsius(self, ohm: np.ndarray) -> np.ndarray: ...

    @abstractmethod
    def _slope(self, celsius: np.ndarray, ohm: np.ndarray) -> np.ndarray: ...

    @abstractmethod
    def _u_celsius(self, celsius: np.ndarray) -> np.ndarray: ...

    @property
    @abstractmethod
    def coefficients(self) -> dict[str, float]:
        """The numbers of the formula, by name."""

    @abstractmethod
    def to_dict(self) -> dict[str, Any]:
        """Everything :func:`locum.physics.curve.curve_from_dict` needs, as plain JSON values."""

    def resistance_ohm(self, temperature_c: Value) -> Any:
        """Resistance at a temperature. [ohm] Raises Refused outside ``domain_c``."""
        celsius = self._checked_celsius(temperature_c)
        return like(temperature_c, self._ohm(celsius))

    def temperature_c(self, resistance_ohm: Value) -> Any:
        """Temperature at a resistance. [degC] Raises Refused outside ``domain_ohm``."""
        ohm = np.asarray(resistance_ohm, dtype=float)
        low, high = self.domain_ohm
        # A printed row at an end of the domain is rounded, and may lie outside by its last digit.
        inside = (ohm >= low * (1 - END_SLACK)) & (ohm <= high * (1 + END_SLACK))
        if not np.all(inside):
            raise Refused(self._outside(ohm[~inside], low, high, "ohm"))
        return self._clipped(resistance_ohm, low, high)

    def nearest_temperature_c(self, resistance_ohm: Value) -> Any:
        """Temperature at a resistance, the domain's end where it lies beyond. [degC]

        For recorded values, where an open or a short must give something to draw; NaN stays NaN.
        """
        low, high = self.domain_ohm
        return self._clipped(resistance_ohm, low, high)

    def _clipped(self, resistance_ohm: Value, low: float, high: float) -> Any:
        ohm = np.clip(np.asarray(resistance_ohm, dtype=float), low, high)
        known = np.where(np.isnan(ohm), low, ohm)
        celsius = np.clip(self._celsius(known), *self.domain_c)
        return like(resistance_ohm, np.where(np.isnan(ohm), np.nan, celsius))

    def slope_ohm_per_k(self, temperature_c: Value) -> Any:
        """Analytic dR/dT, negative for an NTC. [ohm/K] Raises Refused outside ``domain_c``."""
        celsius = self._checked_celsius(temperature_c)
        return like(temperature_c, self._slope(celsius, self._ohm(celsius)))

    def u_temperature_c(self, temperature_c: Value) -> Any:
        """Standard uncertainty of the curve itself; 0 if unknown. [K]

        The fit's covariance carried through, and the misfit of the form beside it.
        """
        celsius = self._checked_celsius(temperature_c)
        return like(temperature_c, np.hypot(self._u_celsius(celsius), self.u_form_c))

    @property
    def domain_ohm(self) -> tuple[float, float]:
        """Lowest and highest resistance inside ``domain_c``. [ohm]"""
        ends = self._ohm(np.asarray(self.domain_c, dtype=float))
        return float(ends.min()), float(ends.max())

    def outside_points(self, temperature_c: Value) -> list[Remark]:
        """The warning that some temperatures lie beyond the curve's points, or nothing."""
        celsius = np.atleast_1d(np.asarray(temperature_c, dtype=float))
        low, high = self.span_c
        beyond = np.maximum(low - celsius, celsius - high)
        if not np.any(beyond > 1e-6):
            return []
        worst = celsius[int(np.argmax(beyond))]
        points = f"within the curve's points, {low:g} to {high:g} degC"
        if low == high:
            points = f"near the curve's only point, {low:g} degC"
        return [
            Remark(
                code="outside_points",
                where=f"{worst:g} degC",
                wanted=f"a temperature {points}",
                found=f"{np.count_nonzero(beyond > 1e-6)} beyond them, by up to {beyond.max():.3g} K",
                remedy="treat the value as a guess, or measure a point there",
            )
        ]

    def _checked_celsius(self, temperature_c: Value) -> np.ndarray:
        celsius = np.asarray(temperature_c, dtype=float)
        low, high = self.domain_c
        inside = (celsius >= low) & (celsius <= high)
        if not np.all(inside):
            raise Refused(self._outside(celsius[~inside], low, high, "degC"))
        return celsius

    def _outside(self, wrong: np.ndarray, low: float, high: float, unit: str) -> Remark:
        wrong = np.unique(wrong)
        shown = ", ".join(f"{value:.6g}" for value in wrong[:4]) + (
            " ..." if len(wrong) > 4 else ""
        )
        return Remark(
            code="outside_domain",
            where=f"{self.kind} curve",
            wanted=f"{low:.6g} to {high:.6g} {unit}",
            found=f"{shown} {unit}",
            remedy="the formula has no meaning out there: ask within its range",
        )


class FittedCurve(Curve):
    """A curve given by coefficients that a fit found, with their covariance."""

    covariance: np.ndarray | None

    def to_dict(self) -> dict[str, Any]:
        """Kind, coefficients, range of the points, and what the fit left."""
        return {
            "kind": self.kind,
            "coefficients": self.coefficients,
            "span_c": list(self.span_c),
            "covariance": None if self.covariance is None else self.covariance.tolist(),
            "u_form_c": self.u_form_c,
        }
