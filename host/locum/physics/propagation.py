"""How uncertainties combine after the GUM: inputs with correlations, weighted means, straight lines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from locum.errors import Misuse, Remark


def combined_u(
    sensitivities: npt.ArrayLike, u: npt.ArrayLike, correlation: npt.ArrayLike | None = None
) -> float:
    """Standard uncertainty of a result of several inputs (GUM 5.1.2, 5.2.2).

    Parameters
    ----------
    sensitivities : array [n]
        Derivative of the result by each input.
    u : array [n]
        Standard uncertainty of each input.
    correlation : array [n, n], optional
        Correlation matrix of the inputs; the identity if missing.
    """
    parts = np.asarray(sensitivities, dtype=float) * np.asarray(u, dtype=float)
    if correlation is None:
        return float(np.sqrt(np.sum(parts**2)))
    return float(np.sqrt(max(parts @ np.asarray(correlation, dtype=float) @ parts, 0.0)))


def propagated(jacobian: npt.ArrayLike, covariance: npt.ArrayLike) -> np.ndarray:
    """Covariance of results from that of their inputs, ``J S J^T``.

    ``jacobian`` is [results, inputs], ``covariance`` [inputs, inputs].
    """
    j = np.atleast_2d(np.asarray(jacobian, dtype=float))
    return j @ np.asarray(covariance, dtype=float) @ j.T


def effective_freedom(u: Sequence[float], degrees_of_freedom: Sequence[float]) -> float:
    """Effective degrees of freedom by Welch and Satterthwaite (GUM G.4.1)."""
    total = sum(value**2 for value in u)
    weight = sum(
        value**4 / freedom
        for value, freedom in zip(u, degrees_of_freedom, strict=True)
        if math.isfinite(freedom)
    )
    return total**2 / weight if weight > 0 else math.inf


@dataclass(frozen=True)
class Mean:
    """A weighted mean of estimates of one quantity."""

    value: float
    u: float
    """Standard uncertainty from the estimates' own. Same unit as ``value``."""
    weights: tuple[float, ...]
    disagreement: float
    """Chi-square over its degrees of freedom; well above 1 means the estimates contradict."""


def weighted_mean(
    values: npt.ArrayLike, u: npt.ArrayLike, correlation: npt.ArrayLike | None = None
) -> Mean:
    """Best linear mean of estimates with known, possibly correlated, uncertainties.

    This closes the loop: the resistance by calibration and the resistance by the node voltage are two
    estimates of one value.

    Parameters
    ----------
    values, u : arrays [n]
        Estimates and their standard uncertainties, above zero.
    correlation : array [n, n], optional
        Of the estimates' errors.
    """
    x, spread = np.asarray(values, dtype=float), np.asarray(u, dtype=float)
    matrix = np.eye(len(x)) if correlation is None else np.asarray(correlation, dtype=float)
    inverse = np.linalg.inv(matrix * np.outer(spread, spread))
    variance = 1.0 / inverse.sum()
    weights = inverse.sum(axis=1) * variance
    mean = float(weights @ x)
    miss = x - mean
    chi2 = float(miss @ inverse @ miss) / max(len(x) - 1, 1)
    return Mean(mean, float(np.sqrt(variance)), tuple(float(w) for w in weights), chi2)


@dataclass(frozen=True)
class Line:
    """A fitted straight line ``y = y1 + y2 (x - x0)``, as in GUM H.3."""

    x0: float
    y1: float
    y2: float
    covariance: np.ndarray
    """Of (y1, y2), 2 x 2."""
    s: float
    """Standard deviation of the residuals; NaN with two points."""

    @property
    def correlation(self) -> float:
        c = self.covariance
        return float(c[0, 1] / math.sqrt(c[0, 0] * c[1, 1]))

    def at(self, x: float) -> tuple[float, float]:
        """Value and standard uncertainty at x."""
        by = np.array([1.0, x - self.x0])
        return self.y1 + self.y2 * (x - self.x0), float(np.sqrt(by @ self.covariance @ by))


def fitted_line(x: npt.ArrayLike, y: npt.ArrayLike, x0: float = 0.0) -> Line:
    """Ordinary least squares line with its covariance (GUM H.3.2). Three points or more."""
    at, value = np.asarray(x, dtype=float) - x0, np.asarray(y, dtype=float)
    if len(at) < 3:
        raise Misuse(Remark("too_few_points", "line", "three points or more", str(len(at))))
    design = np.stack([np.ones_like(at), at], axis=1)
    solution, *_ = np.linalg.lstsq(design, value, rcond=None)
    s2 = float(np.sum((value - design @ solution) ** 2)) / (len(at) - 2)
    covariance = s2 * np.linalg.inv(design.T @ design)
    return Line(x0, float(solution[0]), float(solution[1]), covariance, math.sqrt(s2))
