"""The joint fit of a calibration: Gauss-Newton, the tables' entries eliminated one by one.

The model of :mod:`locum.physics.calibration_model` has about 170 parameters that readings share and one
resistance R0 for each code of each wiper. A reading has at most one wiper in, so each R0 falls out
(Schur complement) and only the system of the shared parameters is solved.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.calibration_model import Model
from locum.physics.sweep import Readings

MOST_TURNS = 6
SETTLED = 1e-4
"""Of a standard uncertainty: the fit ends when no parameter moves by more. Three turns are usual."""


@dataclass(frozen=True, eq=False)
class Solution:
    """Result of the joint fit in the model's own parameters."""

    model: Model
    theta: np.ndarray
    table: np.ndarray
    """[entries], all wipers' R0 one after another. [ohm]"""
    covariance: np.ndarray
    """[p, p] of theta."""
    precision: np.ndarray
    """[p, p] of the priors."""
    own: np.ndarray
    """[entries], information of each R0's own readings. [1/ohm^2]"""
    shared: np.ndarray
    """[entries, p], how an R0 follows theta. [ohm per unit]"""
    residual_lsb: np.ndarray


def solve(model: Model, readings: Readings) -> Solution:
    """Gauss-Newton with the R0 eliminated; see :mod:`calibration_model`."""
    mean, precision = model.priors(readings.off)
    theta, table = mean.copy(), model.start()
    weight = model.sigma**-2.0
    entries = len(table)
    order = np.argsort(model.entry[model.has], kind="stable")
    rows = np.flatnonzero(model.has)[order]
    entry = model.entry[rows]
    starts = np.flatnonzero(np.diff(entry, prepend=-1))
    if len(starts) != entries:
        raise Refused(Remark("sweep_incomplete", "calibration", "every code of every wiper"))
    covariance = shared = own = np.zeros((0, 0))
    for _ in range(MOST_TURNS):
        y, j, by_own = model.predict(theta, table)
        residual = model.on - y
        cross = (weight * by_own)[rows, None] * j[rows]
        cross = np.add.reduceat(cross, starts, axis=0)
        own = np.add.reduceat((weight * by_own**2)[rows], starts)
        pull = np.add.reduceat((weight * by_own * residual)[rows], starts)
        shared = -cross / np.reshape(own, (-1, 1))
        normal = (j * weight[:, None]).T @ j + cross.T @ shared + precision
        right = j.T @ (weight * residual) + shared.T @ pull + precision @ (mean - theta)
        covariance = np.linalg.inv(normal)
        step = covariance @ right
        theta = theta + step
        moved = pull / own + shared @ step
        table = table + moved
        if _settled(step**2, np.diag(covariance)) and _settled(moved**2, 1.0 / own):
            break
    y, _, _ = model.predict(theta, table)
    return Solution(model, theta, table, covariance, precision, own, shared, model.on - y)


def _settled(squares: np.ndarray, variances: np.ndarray) -> bool:
    return bool(np.all(squares <= SETTLED**2 * variances))
