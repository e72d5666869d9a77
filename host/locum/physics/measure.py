"""The module's input measured: open voltage and known loads to a Thevenin source with uncertainty.

Each reading is ``V = Voc r/(r + Rth)`` with r its load (the meter beside it). Voc and Rth are found by least
squares weighted with what is not known of each reading: the voltage's half-width, the load's half-width
carried to volts, and the meter's gain, which all readings share and which therefore drops out of Rth
and stays in Voc. If one source cannot explain the readings, two stages with one Voc are tried.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from locum.errors import Misuse, Refused, Remark
from locum.physics.circuit import Stage, Thevenin
from locum.physics.measure_doubts import Expected, reading_refusals, source_doubts

BEST_RATIO = 0.8295
"""Load over Rth at which equal absolute errors of both voltages matter least: the minimum of ``load_factor``."""


@dataclass(frozen=True)
class LoadResult:
    """What one load said."""

    load_ohm: float
    volts: float
    rth_ohm: float
    """Source resistance this load alone gives with the fitted ``voc_v``. [ohm]"""
    u_rth_ohm: float
    residual_v: float
    """Measured minus fitted. [V]"""
    stage: int
    """Stage it was taken in, 0 cold or 1 hot."""


@dataclass(frozen=True)
class Measurement:
    """A module's input as measured, and what stands against feeding it."""

    source: Thevenin
    loads: tuple[LoadResult, ...]
    two_stage: bool
    chi2: float
    """Weighted sum of squared residuals."""
    freedom: int
    """Degrees of freedom; 0 means nothing was left to check with."""
    refusals: tuple[Remark, ...]
    """Reasons not to stand in on this input; listening is still possible."""
    warnings: tuple[Remark, ...]
    best_load_ohm: float
    """Load that would tell most about Rth next. [ohm]"""
    switch_v: tuple[float, float] | None = None
    """For two stages: the switch-over lies between these node voltages of the cold stage. [V]"""

    def to_dict(self) -> dict[str, Any]:
        """The fields of ``locum module measure --json``."""
        source = self.source
        return {
            "voc_v": source.voc_v,
            "u_voc_v": source.u_voc_v,
            "rth_ohm": source.rth_ohm,
            "u_rth_ohm": source.u_rth_ohm,
            "two_stage": self.two_stage,
            "stages": [
                {"rth_ohm": s.rth_ohm, "u_rth_ohm": s.u_rth_ohm, "below_v": s.below_v}
                for s in source.stages
            ],
            "switch_v": None if self.switch_v is None else list(self.switch_v),
            "loads": [vars(load) for load in self.loads],
            "chi2": self.chi2,
            "freedom": self.freedom,
            "best_load_ohm": self.best_load_ohm,
            "warnings": [remark.as_json() for remark in self.warnings],
            "refusals": [remark.as_json() for remark in self.refusals],
        }


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
class _Solved:
    values: np.ndarray
    """Voc, then Rth of each stage."""
    covariance: np.ndarray
    stage: np.ndarray
    chi2: float
    freedom: int


def thevenin(
    open_v: float | None,
    loads: Sequence[tuple[float, float]],
    volt_error_v: float = 0.01,
    ohm_error_pct: float = 1.0,
    meter_ohm: float | None = None,
    gain_error_pct: float = 0.0,
    expected: Expected | None = None,
) -> Measurement:
    """Thevenin source from an open reading and one or more loads.

    Parameters
    ----------
    open_v : float or None
        Voltage with nothing connected; may be left out with two loads or more. [V]
    loads : sequence of (ohm, volt)
        Each load across the module's pins and the voltage then.
    volt_error_v : float
        Half-width of each voltage reading: offset, resolution, noise. [V]
    ohm_error_pct : float
        Half-width of each load. [%]
    meter_ohm : float, optional
        Input resistance of the voltmeter, corrected for if given. A usual 10 Mohm makes Rth read low by
        Rth/10 Mohm, 0.1 % at 10 kohm; not corrected for if not stated. [ohm]
    gain_error_pct : float
        Half-width of the voltmeter's gain, common to all readings. [%]
    expected : Expected
        What a module of this type shows, if known; a 5 V supply otherwise.

    Raises
    ------
    Refused
        If the readings give no source at all, with the reason.
    Misuse
        For a load that is not above zero, or an error below zero.
    """
    readings = _readings(open_v, loads, volt_error_v, ohm_error_pct, meter_ohm, gain_error_pct)
    refused = reading_refusals(open_v, loads, readings.u_volt)
    if refused:
        raise Refused(refused)
    one = _solve(readings, np.zeros(len(readings.volts), dtype=int))
    best = one
    if not agrees(one.chi2, one.freedom):
        best = _two_stages(readings, one) or one
    return _measurement(readings, best, open_v is not None, expected or Expected())


def load_factor(ratio: float) -> float:
    """Relative u(Rth) over relative u(Voc), for equal absolute errors of both voltages (PRACTICE 2.2).

    ``ratio`` is the load over Rth, above zero.
    """
    return (1 + ratio) * math.sqrt(1 + ((1 + ratio) / ratio) ** 2)


def best_load_ohm(rth_ohm: float) -> float:
    """Load that gives ``rth_ohm`` with least uncertainty, 0.83 of it. [ohm]"""
    return BEST_RATIO * rth_ohm


def agrees(chi2: float, freedom: int) -> bool:
    """Whether readings agree with one source: chi-square below its 99.7 % point (3 sigma).

    The point is Wilson and Hilferty's approximation (1931), within 2 % for one degree of freedom.
    """
    if freedom < 1:
        return True
    part = 2.0 / (9.0 * freedom)
    return chi2 < freedom * (1.0 - part + 2.75 * math.sqrt(part)) ** 3


def _readings(
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


def _solve(readings: Readings, stage: np.ndarray) -> _Solved:
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
    return _Solved(values, covariance, stage, chi2, len(miss) - len(values))


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


def _two_stages(readings: Readings, one: _Solved) -> _Solved | None:
    """The best split into a cold stage (large loads) and a hot one, or None if none convinces."""
    order = np.argsort(-readings.load_ohm, kind="stable")
    found: _Solved | None = None
    for cold in range(1, len(order)):
        stage = np.ones(len(order), dtype=int)
        stage[order[:cold]] = 0
        if not np.any(np.isfinite(readings.load_ohm[stage == 0])):
            continue
        if len(order) < 3:
            continue
        split = _solve(readings, stage)
        lower = split.values[2] < 0.7 * split.values[1]
        if lower and (found is None or split.chi2 < found.chi2):
            found = split
    if found is None or not agrees(found.chi2, found.freedom):
        return None
    return found if one.chi2 - found.chi2 > 9.0 else None


def _measurement(
    readings: Readings, best: _Solved, has_open: bool, expected: Expected
) -> Measurement:
    two_stage = len(best.values) > 2
    source, switch_v = _source(readings, best, two_stage)
    results = _load_results(readings, best, has_open)
    refusals, warnings = source_doubts(
        source, results, best.chi2, agrees(best.chi2, best.freedom), switch_v, expected
    )
    return Measurement(
        source=source,
        loads=results,
        two_stage=two_stage,
        chi2=best.chi2,
        freedom=best.freedom,
        refusals=refusals,
        warnings=warnings,
        best_load_ohm=best_load_ohm(float(best.values[-1])),
        switch_v=switch_v,
    )


def _source(
    readings: Readings, best: _Solved, two_stage: bool
) -> tuple[Thevenin, tuple[float, float] | None]:
    u = np.sqrt(np.diag(best.covariance))
    correlation = float(best.covariance[0, 1] / (u[0] * u[1]))
    voc, cold_rth = float(best.values[0]), float(best.values[1])
    stages: tuple[Stage, ...] = ()
    switch_v = None
    if two_stage:
        in_cold_stage = readings.fitted_v(voc, np.full(len(readings.volts), cold_rth))
        above = float(in_cold_stage[best.stage == 0].min())
        below = float(in_cold_stage[best.stage == 1].max())
        switch_v = (below, above)
        stages = (Stage(float(best.values[2]), 0.5 * (below + above), None, float(u[2])),)
    source = Thevenin(voc, cold_rth, float(u[0]), float(u[1]), stages, correlation)
    return source, switch_v


def _load_results(readings: Readings, best: _Solved, has_open: bool) -> tuple[LoadResult, ...]:
    voc = float(best.values[0])
    fitted = readings.fitted_v(voc, best.values[1:][best.stage])
    results = []
    for i in range(int(has_open), len(readings.volts)):
        ohm, volts = float(readings.load_ohm[i]), float(readings.volts[i])
        alone = ohm * (voc / volts - 1.0) if volts > 0 else math.inf
        by_volt = ohm * voc / volts**2 * readings.u_volt if volts > 0 else math.inf
        by_load = alone / ohm * float(readings.u_load[i])
        by_voc = ohm / volts * math.sqrt(best.covariance[0, 0]) if volts > 0 else math.inf
        results.append(
            LoadResult(
                load_ohm=ohm,
                volts=volts,
                rth_ohm=alone,
                u_rth_ohm=math.sqrt(by_volt**2 + by_load**2 + by_voc**2),
                residual_v=volts - float(fitted[i]),
                stage=int(best.stage[i]),
            )
        )
    return tuple(results)
