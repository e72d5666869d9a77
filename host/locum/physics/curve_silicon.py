"""Silicon spreading-resistance sensors: resistance rises with temperature, nearly a parabola.

``R = R25 (1 + alpha d + beta d^2 + gamma d^3 + delta d^4)``, d = t - 25 degC. Makers print the first two;
the higher terms follow the flattening near the hot end where a table demands them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.curve_base import THERMISTOR_DOMAIN_C, FittedCurve
from locum.physics.inverse import solve_rising

REFERENCE_C = 25.0
NAMES = ("alpha_per_k", "beta_per_k2", "gamma_per_k3", "delta_per_k4", "epsilon_per_k5")


@dataclass(frozen=True)
class SiliconCurve(FittedCurve):
    """A polynomial in temperature, rising over the whole span of its points."""

    kind: ClassVar[str] = "silicon"

    r25_ohm: float
    terms: tuple[float, ...]
    """alpha [1/K], beta [1/K2] and so on, one to five of them."""
    span_c: tuple[float, float] = (-40.0, 150.0)
    covariance: np.ndarray | None = field(default=None, compare=False, repr=False)
    """Covariance of the polynomial's coefficients in ohm, R25 first, or None. [ohm, ohm/K ...]"""
    u_form_c: float = 0.0
    domain_c: tuple[float, float] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "domain_c", self._rising_range())

    @property
    def coefficients(self) -> dict[str, float]:
        return {"r25_ohm": self.r25_ohm, **dict(zip(NAMES, self.terms, strict=False))}

    def _ohm(self, celsius: np.ndarray) -> np.ndarray:
        ratio = np.zeros_like(celsius)
        d = celsius - REFERENCE_C
        for term in reversed(self.terms):
            ratio = d * (term + ratio)
        return self.r25_ohm * (1.0 + ratio)

    def _slope_at(self, celsius: np.ndarray) -> np.ndarray:
        d = celsius - REFERENCE_C
        total = np.zeros_like(celsius)
        for power in range(len(self.terms), 0, -1):
            total = total * d + power * self.terms[power - 1]
        return self.r25_ohm * total

    def _celsius(self, ohm: np.ndarray) -> np.ndarray:
        return solve_rising(self._ohm, self._slope_at, ohm, *self.domain_c)

    def _slope(self, celsius: np.ndarray, ohm: np.ndarray) -> np.ndarray:
        return self._slope_at(celsius)

    def _u_celsius(self, celsius: np.ndarray) -> np.ndarray:
        if self.covariance is None:
            return np.zeros_like(celsius)
        d = celsius - REFERENCE_C
        by = np.stack([d**power for power in range(len(self.terms) + 1)])
        variance = np.einsum("i...,ij,j...->...", by, self.covariance, by)
        return np.sqrt(np.maximum(variance, 0.0)) / self._slope_at(celsius)

    def _rising_range(self) -> tuple[float, float]:
        """The stretch around the span on which resistance rises and is above zero."""
        low, high = THERMISTOR_DOMAIN_C
        polynomial = [*self.terms[::-1], 1.0]
        roots = np.concatenate([np.roots(polynomial), np.roots(np.polyder(polynomial))])
        for root in (float(x.real) + REFERENCE_C for x in roots if abs(x.imag) < 1e-9):
            if self.span_c[0] < root < self.span_c[1]:
                raise Refused(self._not_rising())
            if root <= self.span_c[0]:
                low = max(low, root + 1e-3)
            else:
                high = min(high, root - 1e-3)
        middle = np.array(0.5 * sum(self.span_c))
        if self._slope_at(middle) <= 0 or self._ohm(middle) <= 0:
            raise Refused(self._not_rising())
        return min(low, self.span_c[0]), max(high, self.span_c[1])

    def _not_rising(self) -> Remark:
        return Remark(
            code="not_rising",
            where="silicon curve",
            wanted=f"resistance rising all the way from {self.span_c[0]:g} to {self.span_c[1]:g} degC",
            found=", ".join(f"{name}={value:.4g}" for name, value in self.coefficients.items()),
            remedy="check the points, or fit a table or an ntc curve instead",
        )
