"""Thermistors with a negative temperature coefficient, by formula.

Steinhart and Hart's equation (Deep-Sea Research 15, 1968), ``1/T = a + b x + c x^3`` with
``x = ln(R/ohm)`` and T in kelvin, is the usual one; a square term is there for tables that demand it.
Turning it round by the textbook's cube roots loses all digits when c is tiny and has no answer when
c is negative, so the one real root that matters is written with sinh (c > 0) or sin (c < 0), which
go over into the plain logarithm as c goes to zero.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.curve_base import KELVIN, THERMISTOR_DOMAIN_C, FittedCurve
from locum.physics.inverse import solve_rising

X_RANGE = (float(np.log(1e-3)), float(np.log(1e10)))
"""Logarithms of the smallest and largest resistance considered. [ln ohm]"""

USUAL_SPAN_C = (-40.0, 150.0)
"""Taken as the range of points where coefficients come without points: common practice."""


@dataclass(frozen=True)
class NtcCurve(FittedCurve):
    """``1/T = a + b x + square x^2 + c x^3``, x = ln(R/ohm), T in kelvin."""

    kind: ClassVar[str] = "ntc"

    a: float
    b: float
    c: float
    square: float = 0.0
    """Coefficient of x^2; zero in Steinhart and Hart's form."""
    span_c: tuple[float, float] = USUAL_SPAN_C
    covariance: np.ndarray | None = field(default=None, compare=False, repr=False)
    """Covariance of (a, b, square, c), 4 x 4, or None. Units of the coefficients."""
    u_form_c: float = 0.0
    domain_c: tuple[float, float] = field(init=False, compare=False, repr=False)
    _x_range: tuple[float, float] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        x_range, domain = falling_branch(self.a, self.b, self.square, self.c, self.span_c)
        object.__setattr__(self, "_x_range", x_range)
        object.__setattr__(self, "domain_c", domain)

    @property
    def coefficients(self) -> dict[str, float]:
        named = {"a": self.a, "b": self.b, "c": self.c}
        return {**named, "square": self.square} if self.square else named

    def _inverse_kelvin(self, x: np.ndarray) -> np.ndarray:
        return self.a + x * (self.b + x * (self.square + x * self.c))

    def _inverse_kelvin_slope(self, x: np.ndarray) -> np.ndarray:
        return self.b + x * (2 * self.square + 3 * self.c * x)

    def _ln_ohm(self, inverse_kelvin: np.ndarray) -> np.ndarray:
        if self.square == 0.0 and self.b > 0.0:
            return cubic_root(self.b, self.c, inverse_kelvin - self.a)
        return solve_rising(
            self._inverse_kelvin, self._inverse_kelvin_slope, inverse_kelvin, *self._x_range
        )

    def _ohm(self, celsius: np.ndarray) -> np.ndarray:
        return np.exp(self._ln_ohm(1.0 / (celsius + KELVIN)))

    def _celsius(self, ohm: np.ndarray) -> np.ndarray:
        return 1.0 / self._inverse_kelvin(np.log(ohm)) - KELVIN

    def _slope(self, celsius: np.ndarray, ohm: np.ndarray) -> np.ndarray:
        kelvin = celsius + KELVIN
        return -ohm / (kelvin * kelvin * self._inverse_kelvin_slope(np.log(ohm)))

    def _u_celsius(self, celsius: np.ndarray) -> np.ndarray:
        if self.covariance is None:
            return np.zeros_like(celsius)
        kelvin = celsius + KELVIN
        x = self._ln_ohm(1.0 / kelvin)
        by = np.stack([np.ones_like(x), x, x * x, x**3])
        variance = np.einsum("i...,ij,j...->...", by, self.covariance, by)
        return kelvin * kelvin * np.sqrt(np.maximum(variance, 0.0))

    def beta_k(self, low_c: float, high_c: float) -> float:
        """The beta constant between two temperatures. [K]"""
        ohms = self.resistance_ohm(np.array([low_c, high_c]))
        return beta_between_k(low_c, ohms[0], high_c, ohms[1])


@dataclass(frozen=True)
class BetaCurve(FittedCurve):
    """``R = R0 exp(beta (1/T - 1/T0))``: good within about 30 K of its points."""

    kind: ClassVar[str] = "beta"

    beta_k: float
    r0_ohm: float
    t0_c: float
    span_c: tuple[float, float] = USUAL_SPAN_C
    covariance: np.ndarray | None = field(default=None, compare=False, repr=False)
    """Covariance of (ln R0, beta), 2 x 2, or None. [1, K]"""
    u_form_c: float = 0.0
    domain_c: tuple[float, float] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        wrong = []
        if not (self.beta_k > 0 and np.isfinite(self.beta_k)):
            wrong.append(_bad("beta", "a beta above zero", f"{self.beta_k:g} K"))
        if not (self.r0_ohm > 0 and np.isfinite(self.r0_ohm)):
            wrong.append(_bad("r0_ohm", "a resistance above zero", f"{self.r0_ohm:g} ohm"))
        if not self.t0_c > -KELVIN:
            wrong.append(_bad("t0_c", "a temperature above absolute zero", f"{self.t0_c:g} degC"))
        if wrong:
            raise Refused(wrong)
        object.__setattr__(self, "domain_c", THERMISTOR_DOMAIN_C)

    @property
    def coefficients(self) -> dict[str, float]:
        return {"beta_k": self.beta_k, "r0_ohm": self.r0_ohm, "t0_c": self.t0_c}

    def _from_t0(self, celsius: np.ndarray) -> np.ndarray:
        return 1.0 / (celsius + KELVIN) - 1.0 / (self.t0_c + KELVIN)

    def _ohm(self, celsius: np.ndarray) -> np.ndarray:
        return self.r0_ohm * np.exp(self.beta_k * self._from_t0(celsius))

    def _celsius(self, ohm: np.ndarray) -> np.ndarray:
        inverse = 1.0 / (self.t0_c + KELVIN) + np.log(ohm / self.r0_ohm) / self.beta_k
        return 1.0 / inverse - KELVIN

    def _slope(self, celsius: np.ndarray, ohm: np.ndarray) -> np.ndarray:
        return -self.beta_k * ohm / (celsius + KELVIN) ** 2

    def _u_celsius(self, celsius: np.ndarray) -> np.ndarray:
        if self.covariance is None:
            return np.zeros_like(celsius)
        by = np.stack([np.ones_like(celsius), self._from_t0(celsius)])
        variance = np.einsum("i...,ij,j...->...", by, self.covariance, by)
        return (celsius + KELVIN) ** 2 / self.beta_k * np.sqrt(np.maximum(variance, 0.0))


def beta_between_k(first_c: float, first_ohm: float, second_c: float, second_ohm: float) -> float:
    """The beta constant of two points, ``ln(R1/R2) / (1/T1 - 1/T2)``. [K]"""
    inverse = 1.0 / (first_c + KELVIN) - 1.0 / (second_c + KELVIN)
    return float(np.log(first_ohm / second_ohm) / inverse)


def cubic_root(b: float, c: float, wanted: np.ndarray) -> np.ndarray:
    """The root x of ``b x + c x^3 = wanted`` that is ``wanted/b`` for c = 0; b above zero.

    With k = sqrt(3|c|/b) and z = 1.5 k wanted/b it is (2/k) sinh(asinh(z)/3) for c > 0 and
    (2/k) sin(asin(z)/3) for c < 0, where |z| <= 1 is the range in which the cubic rises.
    """
    k = np.sqrt(3.0 * abs(c) / b)
    if k < 1e-12:  # the cubic part is below the last bit for every |x| < 100
        return wanted / b
    z = 1.5 * k * wanted / b
    if c > 0:
        return (2.0 / k) * np.sinh(np.arcsinh(z) / 3.0)
    return (2.0 / k) * np.sin(np.arcsin(np.clip(z, -1.0, 1.0)) / 3.0)


def falling_branch(
    a: float, b: float, square: float, c: float, span_c: tuple[float, float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """The stretch of the formula on which resistance falls with temperature.

    Returns
    -------
    x_range : (low, high)
        Range of ln(R/ohm) in which 1/T rises with x.
    domain_c : (low, high)
        The temperatures of that stretch, cut to ``THERMISTOR_DOMAIN_C``. [degC]

    Raises
    ------
    Refused
        If no such stretch holds the whole span of points.
    """
    if not np.all(np.isfinite([a, b, square, c])):
        raise Refused(_bad("coefficients", "finite numbers", f"a={a}, b={b}, c={c}"))
    turns = [float(x.real) for x in np.roots([3 * c, 2 * square, b]) if abs(x.imag) < 1e-12]
    # A step off the turning point keeps the slope above zero at the ends.
    margin = 1e-6
    edges = [X_RANGE[0], *sorted(x for x in turns if X_RANGE[0] < x < X_RANGE[1]), X_RANGE[1]]
    coldest, hottest = (1.0 / (end + KELVIN) for end in THERMISTOR_DOMAIN_C)
    inner = [1.0 / (end + KELVIN) for end in span_c]
    for left, right in zip(edges[:-1], edges[1:], strict=True):
        low, high = left + margin, right - margin
        middle = 0.5 * (low + high)
        if b + middle * (2 * square + 3 * c * middle) <= 0:
            continue
        bottom, top = (a + x * (b + x * (square + x * c)) for x in (low, high))
        bottom, top = max(bottom, hottest), min(top, coldest)
        if bottom <= min(inner) * (1 + 1e-9) and top >= max(inner) * (1 - 1e-9):
            return (low, high), (1.0 / top - KELVIN, 1.0 / bottom - KELVIN)
    raise Refused(
        Remark(
            code="not_falling",
            where="ntc curve",
            wanted=f"resistance falling all the way from {span_c[0]:g} to {span_c[1]:g} degC",
            found=f"a={a:.6g}, b={b:.6g}, c={c:.6g} turn back or never get there",
            remedy="check the points, or fit a table or a beta curve instead",
        )
    )


def _bad(where: str, wanted: str, found: str) -> Remark:
    return Remark(code="bad_coefficient", where=where, wanted=wanted, found=found,
                  remedy="check the sheet")  # fmt: skip
