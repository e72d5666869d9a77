"""Least squares of a module's readings: one source, or two stages with one open voltage."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from locum.errors import Misuse, Remark


@dataclass(frozen=True)
class Readings:
    """All readings of one input, the open one as a load of infinite ohms (or of the meter's)."""

    load_ohm: np.ndarray
    volts: np.ndarray
    u_volt: float
    u_load: np.ndarray
    """Standard uncertainty of each load. [ohm]"""
    u_gain: float
    """Standard uncertainty of the voltmeter's gain, shared by all readings."""

    def fitted_v(self, voc_v: float, rth_ohm: np.ndarray) -> np.ndarray:
        return voc_v / (1.0 + rth_ohm / self.load_ohm)

    def covariance(self, voc_v: float, rth_ohm: np.ndarray) -> np.ndarray:
        """Covariance of the readings, in volts, given about where the source lies."""
        fitted = self.fitted_v(voc_v, rth_ohm)
        finite = np.isfinite(self.load_ohm)
        load = np.where(finite, self.load_ohm, 1.0)
        by_load = np.where(finite, fitted * rth_ohm / (load * (load + rth_ohm)), 0.0)
        own = self.u_volt**2 + (by_load * self.u_load) ** 2
        return np.diag(own) + self.u_gain**2 * np.outer(fitted, fitted)


@dataclass(frozen=True)
class Solved:
    values: np.ndarray
    """Voc, then Rth of each stage."""
    covariance: np.ndarray
    stage: np.ndarray
    chi2: float
    freedom: int


def gathered_readings(
    open_v: float | None,
    loads: Sequence[tuple[float, float]],
    volt_error_v: float,
    ohm_error_pct: float,
    meter_ohm: float | None,
    gain_error_pct: float,
) -> Readings:
    faults = [
        Remark("bad_load", f"load {ohm:g} ohm", "a load above zero", f"{ohm:g} ohm")
        for ohm, _ in loads
        if not (math.isfinite(ohm) and ohm > 0)
    ]
    if not (volt_error_v > 0 and ohm_error_pct >= 0 and gain_error_pct >= 0):
        found = f"{volt_error_v:g} V, {ohm_error_pct:g} %, {gain_error_pct:g} %"
        faults.append(Remark("bad_error", "meter", "errors of zero or more, volts above", found))
    if meter_ohm is not None and not meter_ohm > 0:
        faults.append(Remark("bad_meter", "meter", "an input above zero", f"{meter_ohm:g} ohm"))
    if faults:
        raise Misuse(faults)
    ohm = np.array([math.inf] * (open_v is not None) + [load for load, _ in loads], dtype=float)
    volts = np.array([open_v] * (open_v is not None) + [v for _, v in loads], dtype=float)
    relative = ohm_error_pct / 100 / math.sqrt(3)
    u_load = np.where(np.isfinite(ohm), relative * np.where(np.isfinite(ohm), ohm, 0.0), 0.0)
    if meter_ohm is not None:
        beside = 1.0 / (1.0 / ohm + 1.0 / meter_ohm)
        # The load's own uncertainty shrinks with the square of the share it keeps.
        u_load = np.where(np.isfinite(ohm), u_load * (beside / ohm) ** 2, 0.0)
        ohm = beside
    root3 = math.sqrt(3)
    return Readings(ohm, volts, volt_error_v / root3, u_load, gain_error_pct / 100 / root3)


def solved_source(readings: Readings, stage: np.ndarray) -> Solved:
    """Weighted least squares for Voc and the Rth of each stage, by Gauss and Newton."""
    stages = int(stage.max()) + 1
    values = _start(readings, stage, stages)
    covariance = np.eye(1 + stages)
    for _ in range(60):
        rth = values[1:][stage]
        weight = np.linalg.inv(readings.covariance(values[0], rth))
        share = 1.0 / (1.0 + rth / readings.load_ohm)
        jacobian = np.zeros((len(share), 1 + stages))
        jacobian[:, 0] = share
        finite = np.isfinite(readings.load_ohm)
        by_rth = np.where(finite, -values[0] * share**2 / np.where(finite, readings.load_ohm, 1), 0)
        jacobian[np.arange(len(share)), 1 + stage] = by_rth
        miss = readings.volts - values[0] * share
        covariance = np.linalg.pinv(jacobian.T @ weight @ jacobian, hermitian=True)
        step = covariance @ (jacobian.T @ weight @ miss)
        # A wild step is cut back so that Rth stays above its tenth.
        step[1:] = np.maximum(step[1:], -0.9 * values[1:])
        values = values + step
        if np.all(np.abs(step) <= 1e-12 * np.abs(values)):
            break
    rth = values[1:][stage]
    miss = readings.volts - readings.fitted_v(values[0], rth)
    chi2 = float(miss @ np.linalg.inv(readings.covariance(values[0], rth)) @ miss)
    return Solved(values, covariance, stage, chi2, len(miss) - len(values))


def _start(readings: Readings, stage: np.ndarray, stages: int) -> np.ndarray:
    """First guess: ``V = Voc - Rth V/r`` is linear in Voc and the stages' Rth."""
    design = np.zeros((len(readings.volts), 1 + stages))
    design[:, 0] = 1.0
    current = readings.volts / readings.load_ohm
    design[np.arange(len(stage)), 1 + stage] = -current * 1e3
    guess, *_ = np.linalg.lstsq(design, readings.volts, rcond=None)
    guess[1:] = np.maximum(guess[1:] * 1e3, 1.0)
    guess[0] = max(guess[0], float(readings.volts.max()) * 0.5, 1e-3)
    return guess


def two_stages(readings: Readings, one: Solved) -> Solved | None:
    """The best split into a cold stage (large loads) and a hot one, or None if none convinces."""
    order = np.argsort(-readings.load_ohm, kind="stable")
    found: Solved | None = None
    for cold in range(1, len(order)):
        stage = np.ones(len(order), dtype=int)
        stage[order[:cold]] = 0
        if not np.any(np.isfinite(readings.load_ohm[stage == 0])):
            continue
        if len(order) < 3:
            continue
        split = solved_source(readings, stage)
        lower = split.values[2] < 0.7 * split.values[1]
        if lower and (found is None or split.chi2 < found.chi2):
            found = split
    if found is None or not agrees(found.chi2, found.freedom):
        return None
    return found if one.chi2 - found.chi2 > 9.0 else None


def agrees(chi2: float, freedom: int) -> bool:
    """Whether readings agree with one source: chi-square below its 99.7 % point (3 sigma).

    The point is Wilson and Hilferty's approximation (1931), within 2 % for one degree of freedom.
    """
    if freedom < 1:
        return True
    part = 2.0 / (9.0 * freedom)
    return chi2 < freedom * (1.0 - part + 2.75 * math.sqrt(part)) ** 3
