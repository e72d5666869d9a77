"""From a board's own readings to its calibration: the joint fit.

The fit is that of :mod:`locum.physics.joint_fit`. What it needs is readings and the board sheet's
nominal values, nothing else. Everything is measured against the board's references
(0.1 %), seen through its converter, at the voltages that the ranges happen to give; the model's
job is to find what these have in common in some 2,900 readings, and the budget's to say what they leave.
"""

from __future__ import annotations

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.calibration import Calibration
from locum.physics.calibration_model import LAW_KNOTS_V, LAW_OHM, Model
from locum.physics.causes import factors_of
from locum.physics.floor import with_floor
from locum.physics.joint_fit import Solution, solve
from locum.physics.network import Network
from locum.physics.ohmmeter import Ohmmeter
from locum.physics.sweep import Readings, floor_sweep

__all__ = ["fit_calibration", "with_floor"]

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
        Of the board meanwhile. [degC]

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


def _calibration(
    network: Network,
    meter: Ohmmeter,
    readings: Readings,
    solution: Solution,
    chi2: float,
    board_serial: str,
    date_utc: str,
    ambient_c: float,
) -> Calibration:
    """The fit's parameters and causes as the calibration keeps them."""
    model, theta = solution.model, solution.theta
    causes, entry_factor, theta_factor, noise = factors_of(solution)
    cut = [slice(a, b) for a, b in zip(model.first[:-1], model.first[1:], strict=True)]
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
        law_factor=_law_factor(model, theta_factor),
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


def _law_factor(model: Model, theta_factor: np.ndarray) -> np.ndarray:
    """Causes of each wiper's law and of the knots of its chip, a matrix for each wiper."""
    return np.stack(
        [
            np.concatenate([theta_factor[[kappa]] * LAW_OHM, theta_factor[model.c_knots[chip]]])
            for kappa, chip in zip(model.c_kappa, model.chip, strict=True)
        ]
    )


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
