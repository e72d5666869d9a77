"""A published band: the lowest and highest resistance a good sensor may have at a temperature."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.curve_base import Curve, Value, like


@dataclass(frozen=True)
class Band:
    """Two curves around a centre, taken from a limits table or a tolerance."""

    low: Curve
    """Curve through the lowest resistances allowed."""
    high: Curve
    """Curve through the highest resistances allowed."""
    source: str = ""
    """Where the limits come from, in words."""

    @property
    def span_c(self) -> tuple[float, float]:
        """Temperatures for which both limits have points. [degC]"""
        return (
            max(self.low.span_c[0], self.high.span_c[0]),
            min(self.low.span_c[1], self.high.span_c[1]),
        )

    def limits_ohm(self, temperature_c: Value) -> tuple[Any, Any]:
        """Lowest and highest resistance at a temperature. [ohm]

        The two curves may cross, as those of a lone reading with its range of betas do.
        """
        celsius = np.asarray(temperature_c, dtype=float)
        low, high = self.low.resistance_ohm(celsius), self.high.resistance_ohm(celsius)
        return like(temperature_c, np.minimum(low, high)), like(
            temperature_c, np.maximum(low, high)
        )

    def half_width_c(self, temperature_c: Value) -> Any:
        """Half the spread of temperatures that good sensors of one resistance may have. [K]"""
        celsius = np.asarray(temperature_c, dtype=float)
        low, high = (np.asarray(value) for value in self.limits_ohm(celsius))
        slope = np.abs(np.asarray(self.low.slope_ohm_per_k(celsius)))
        slope = slope / np.asarray(self.low.resistance_ohm(celsius))
        return like(temperature_c, 0.5 * np.log(high / low) / slope)


@dataclass(frozen=True)
class ScaledCurve(Curve):
    """Another curve with every resistance multiplied: the edge of a tolerance in per cent."""

    kind = "scaled"

    base: Curve
    factor: float

    def __post_init__(self) -> None:
        if not (np.isfinite(self.factor) and self.factor > 0):
            raise Refused(Remark("bad_factor", "band", "a factor above zero", f"{self.factor:g}"))

    @property
    def span_c(self) -> tuple[float, float]:  # pyright: ignore[reportIncompatibleVariableOverride]
        return self.base.span_c

    @property
    def domain_c(self) -> tuple[float, float]:  # pyright: ignore[reportIncompatibleVariableOverride]
        return self.base.domain_c

    @property
    def coefficients(self) -> dict[str, float]:
        return {**self.base.coefficients, "factor": self.factor}

    def _ohm(self, celsius: np.ndarray) -> np.ndarray:
        return self.factor * self.base._ohm(celsius)

    def _celsius(self, ohm: np.ndarray) -> np.ndarray:
        return self.base._celsius(ohm / self.factor)

    def _slope(self, celsius: np.ndarray, ohm: np.ndarray) -> np.ndarray:
        return self.factor * self.base._slope(celsius, ohm / self.factor)

    def _u_celsius(self, celsius: np.ndarray) -> np.ndarray:
        return self.base._u_celsius(celsius)

    def to_dict(self) -> dict[str, Any]:
        return {"kind": self.kind, "factor": self.factor, "base": self.base.to_dict()}


def tolerance_band(curve: Curve, tolerance_pct: float, source: str = "") -> Band:
    """The band a tolerance of the resistance in per cent gives, 0 to below 100."""
    if not 0 < tolerance_pct < 100:
        raise Refused(
            Remark("bad_tolerance", "band", "a tolerance of 0 to 100 %", f"{tolerance_pct:g} %")
        )
    part = tolerance_pct / 100
    said = source or f"+-{tolerance_pct:g} % of the resistance"
    return Band(ScaledCurve(curve, 1 - part), ScaledCurve(curve, 1 + part), said)
