"""Weighted linear least squares with a covariance that admits what is known of each row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Solution:
    """Parameters of a linear fit."""

    values: np.ndarray
    covariance: np.ndarray
    residuals: np.ndarray
    """Fitted minus wanted, in the unit of ``wanted``."""
    freedom: int
    scatter: float
    """Weighted standard deviation of the residuals; 0 without degrees of freedom."""


def solved(
    design: np.ndarray,
    wanted: np.ndarray,
    weights: np.ndarray | None = None,
    known_u: np.ndarray | None = None,
) -> Solution:
    """Least squares solution of ``design @ values = wanted``.

    Parameters
    ----------
    design : array [rows, parameters]
    wanted : array [rows]
    weights : array [rows], optional
        Relative weights of the squared residuals, above zero.
    known_u : array [rows], optional
        Least standard uncertainty of each row, such as its rounding. The covariance of the
        parameters comes from each row's scatter or from this, whichever is larger, carried through
        the solution; so it stands even where no row is left over to show a scatter.

    Returns
    -------
    Solution
    """
    rows, parameters = design.shape
    w = np.ones(rows) if weights is None else np.asarray(weights, dtype=float)
    root = np.sqrt(w / w.mean())
    # Columns of like size keep the small coefficients' digits.
    size = np.linalg.norm(design * root[:, None], axis=0)
    size[size == 0] = 1.0
    inverse = np.linalg.pinv(design * root[:, None] / size) / size[:, None] * root
    values = inverse @ wanted
    # One step of refinement: what the first solution leaves is solved for again.
    values = values + inverse @ (wanted - design @ values)
    residuals = design @ values - wanted
    freedom = rows - parameters
    scatter = float(np.sqrt(np.sum((root * residuals) ** 2) / freedom)) if freedom > 0 else 0.0
    floor = np.zeros(rows) if known_u is None else np.asarray(known_u, dtype=float)
    row_u = np.maximum(scatter / root, floor)
    covariance = (inverse * row_u**2) @ inverse.T
    return Solution(values, covariance, residuals, freedom, scatter)
