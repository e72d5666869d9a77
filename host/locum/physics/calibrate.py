"""From a board's own readings to its calibration: the joint fit.

The fit is Gauss-Newton on :mod:`locum.physics.calibration_model`. What it needs is readings and the
board sheet's nominal values, nothing else. Everything is measured against the board's references
(0.1 %), seen through its converter, at the voltages that the ranges happen to give; the model's
job is to find what these have in common in 3,200 readings, and the budget's to say what they leave.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.calibration import Calibration
from locum.physics.calibration_model import LAW_KNOTS_V, LAW_OHM, Model
from locum.physics.floor import with_floor
from locum.physics.network import Network
from locum.physics.ohmmeter import Ohmmeter
from locum.physics.sweep import Readings, floor_sweep

__all__ = ["Solution", "fit_calibration", "solve", "with_floor"]

MOST_TURNS = 6
SETTLED = 1e-4
"""Of a standard uncertainty: the fit ends when no parameter moves by more. Three turns are usual."""
MOST_MODES = 6
"""Independent causes kept of each group; what further ones leave is counted as noise."""
CHI2_LIMIT = 6.0
"""Of the fit, per reading: above it something is broken, not merely worse than assumed."""
DRIFT = {
    "wiper_part": 0.058,
    "wiper_ohm": 0.0,
    "scale": 1.1e-3,
    "series_ohm": 0.14,
    "reference": 2.9e-4,
}
"""Standard uncertainties over +-20 K when nothing was measured again: wiper switch 0.5 %/K, ladder
100 ppm/K, fuse and solid-state switch 0.012 ohm/K, references 25 ppm/K; all rectangular."""


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


def fit_calibration(
    network: Network,
    meter: Ohmmeter,
    readings: Readings,
    board_serial: str,
    date_utc: str,
    ambient_c: float,
) -> Calibration:
    """The calibration of a board from a complete sweep.

    Parameters
    ----------
    network : Network
        Nominal, of the board's sheet.
    meter : Ohmmeter
        Nominal.
    readings : Readings
        Of :func:`~locum.physics.sweep.calibration_sweep`, none missing.
    board_serial, date_utc : str
    ambient_c : float
        Of the board's surroundings. [degC]

    Raises
    ------
    Refused
        If readings are missing, or contradict each other so much that the board must be broken.
    """
    if len(readings.missing):
        raise Refused(
            Remark(
                "sweep_incomplete",
                f"board {board_serial}",
                f"{len(readings.sweep)} readings",
                f"{len(readings.sweep) - len(readings.missing)}",
                "let the calibration run to its end; it goes on where it stopped",
            )
        )
    solution = solve(Model(network, meter, readings), readings)
    chi2 = float(np.mean((solution.residual_lsb / solution.model.sigma) ** 2))
    if chi2 > CHI2_LIMIT:
        raise Refused(_contradiction(solution, chi2, board_serial))
    made = _calibration(network, meter, readings, solution, chi2, board_serial, date_utc, ambient_c)
    # As it will be read back: what a plan is compiled with and what is stored are the same numbers.
    return Calibration.from_dict(made.to_dict())


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


def _contradiction(solution: Solution, chi2: float, board_serial: str) -> Remark:
    model = solution.model
    worst = int(np.argmax(np.abs(solution.residual_lsb)))
    name = model.network.wipers[model.wiper[worst]].name if model.has[worst] else "hot branches"  # pyright: ignore[reportIndexIssue]
    return Remark(
        "readings_contradict",
        f"board {board_serial}, {name}",
        "readings on different ranges that agree within their errors",
        f"{abs(solution.residual_lsb[worst]):.1f} counts apart, {chi2:.0f} times the expected spread",
        "check the solder joints and the references of that branch, then calibrate again",
    )


def _calibration(network, meter, readings, solution, chi2, board_serial, date_utc, ambient_c):
    model, theta = solution.model, solution.theta
    causes, entry_factor, theta_factor, noise = _factors(solution)
    cut = [slice(a, b) for a, b in zip(model.first[:-1], model.first[1:], strict=True)]
    law = np.stack(
        [
            np.concatenate([theta_factor[[model.c_kappa[w]]] * LAW_OHM,
                            theta_factor[model.c_knots[model.chip[w]]]])
            for w in range(len(network.wipers))
        ]
    )  # fmt: skip
    return Calibration(
        board_serial=board_serial,
        date_utc=date_utc,
        ambient_c=float(ambient_c),
        meter="",
        table_ohm=tuple(solution.table[part] for part in cut),
        law_ohm=tuple(float(LAW_OHM * theta[column]) for column in model.c_kappa),
        law_knots_v=LAW_KNOTS_V.copy(),
        law_knots_ohm=theta[model.c_knots[model.chip]],
        law_supply_v=network.wipers[0].law_supply_v,
        hot_ohm=tuple(float(theta[column]) for column in model.c_hot),
        series_ohm=float(theta[model.c_series]),
        out_siemens=tuple(float(1e-9 * theta[column]) for column in model.c_out),
        noise_ohm=tuple(noise[part] for part in cut),
        causes=causes,
        table_factor=tuple(entry_factor[part] for part in cut),
        law_factor=law,
        fixed_factor=theta_factor[[model.c_series, *model.c_hot]],
        out_factor=1e-9 * theta_factor[model.c_out],
        drift=dict(DRIFT),
        floor_date_utc="",
        reference_on=_reference(network, meter, readings),
        quality={
            "chi2": round(chi2, 3),
            "worst_residual_lsb": round(float(np.abs(solution.residual_lsb).max()), 3),
            "readings": float(len(readings.sweep)),
        },
    )


def _factors(solution: Solution):
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


def _reference(network: Network, meter: Ohmmeter, readings: Readings) -> np.ndarray:
    """The sweep's counts at the states of the short sweep."""
    short, whole = floor_sweep(network, meter), readings.sweep
    rows = []
    for row in range(len(short)):
        same = (whole.range_index == short.range_index[row]) & (whole.hot == short.hot[row])
        same &= (whole.out == short.out[row]).all(axis=1)
        same &= (whole.out | (whole.codes == short.codes[row])).all(axis=1)
        rows.append(int(np.flatnonzero(same)[0]))
    return readings.on[rows]
