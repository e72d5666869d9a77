"""What a joint fit leaves unknown, as independent causes under the names of the budget's lines."""

from __future__ import annotations

import numpy as np

from locum.physics.joint_fit import Solution

MOST_MODES = 6
"""Independent causes kept of each group; what further ones leave is counted as noise."""


def factors_of(
    solution: Solution,
) -> tuple[tuple[str, ...], np.ndarray, np.ndarray, np.ndarray]:
    """Independent causes: names [c], effect on the tables [entries, c] and on theta [p, c], noise.

    The estimate errs by what the priors' means are off (each group by itself) and by the readings'
    noise, each propagated through the normal equations; their sum is the whole covariance.
    """
    covariance, precision, shared = solution.covariance, solution.precision, solution.shared
    names: list[str] = []
    columns: list[np.ndarray] = []
    left = np.zeros(len(solution.own))
    noise_part = covariance.copy()
    for group in solution.model.groups:
        index = np.asarray(group.columns)
        root = np.linalg.cholesky(precision[np.ix_(index, index)])
        spread = covariance[:, index] @ root
        noise_part -= spread @ spread.T
        kept, dropped = _modes(spread, shared)
        left += dropped
        names += [group.name] * kept.shape[1]
        columns.append(kept)
    values, vectors = np.linalg.eigh(0.5 * (noise_part + noise_part.T))
    kept, dropped = _modes(vectors * np.sqrt(np.maximum(values, 0.0)), shared)
    names += ["readings"] * kept.shape[1]
    columns.append(kept)
    theta_factor = np.concatenate(columns, axis=1)
    noise = np.sqrt(1.0 / solution.own + left + dropped)
    return tuple(names), shared @ theta_factor, theta_factor, noise


def _modes(spread: np.ndarray, shared: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The strongest combinations of some causes, and what the others leave on each table entry."""
    if spread.shape[1] <= MOST_MODES:
        return spread, np.zeros(len(shared))
    effect = shared @ spread
    scale = 1.0 / np.sqrt((effect**2).sum(axis=1) + 1e-12)
    # Right singular vectors of the scaled effect, strongest first, by its small Gram matrix: only
    # the strongest are wanted, and these lose nothing by the squaring.
    scaled = effect * scale[:, None]
    _, turn = np.linalg.eigh(scaled.T @ scaled)
    kept = spread @ turn[:, : -MOST_MODES - 1 : -1]
    rest = (effect**2).sum(axis=1) - ((shared @ kept) ** 2).sum(axis=1)
    return kept, np.maximum(rest, 0.0)
