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

from locum.errors import Refused, Remark
from locum.physics.circuit import Stage, Thevenin
from locum.physics.measure_doubts import Expected, source_doubts
from locum.physics.measure_fit import (
    Readings,
    Solved,
    agrees,
    gathered_readings,
    solved_source,
    two_stages,
)
from locum.physics.measure_refusals import reading_refusals

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
    readings = gathered_readings(
        open_v, loads, volt_error_v, ohm_error_pct, meter_ohm, gain_error_pct
    )
    refused = reading_refusals(open_v, loads, readings.u_volt)
    if refused:
        raise Refused(refused)
    one = solved_source(readings, np.zeros(len(readings.volts), dtype=int))
    best = one
    if not agrees(one.chi2, one.freedom):
        best = two_stages(readings, one) or one
    return _measurement(readings, best, open_v is not None, expected or Expected())


def load_factor(ratio: float) -> float:
    """Relative u(Rth) over relative u(Voc), for equal absolute errors of both voltages.

    ``ratio`` is the load over Rth, above zero.
    """
    return (1 + ratio) * math.sqrt(1 + ((1 + ratio) / ratio) ** 2)


def best_load_ohm(rth_ohm: float) -> float:
    """Load that gives ``rth_ohm`` with least uncertainty, 0.83 of it. [ohm]"""
    return BEST_RATIO * rth_ohm


def _measurement(
    readings: Readings, best: Solved, has_open: bool, expected: Expected
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
    readings: Readings, best: Solved, two_stage: bool
) -> tuple[Thevenin, tuple[float, float] | None]:
    u = np.sqrt(np.diag(best.covariance))
    both = float(u[0] * u[1])
    correlation = float(best.covariance[0, 1]) / both if both > 0 else 0.0
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


def _load_results(readings: Readings, best: Solved, has_open: bool) -> tuple[LoadResult, ...]:
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
