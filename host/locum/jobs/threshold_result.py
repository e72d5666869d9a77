"""What a threshold test comes to: changes with intervals, hysteresis, a sentence, a finding."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from locum.errors import Remark
from locum.jobs.cases import author_of
from locum.jobs.errand import Errand, VerbResult
from locum.physics import choose
from locum.physics.uncertainty import network_uncertainty
from locum.review import threshold as finder


@dataclass(frozen=True)
class Sweep:
    """One way through the range at one rate."""

    way: str
    """``rising`` or ``falling``."""
    rate_k_per_s: float
    seen_c: float | None
    """Where the state changed; None if it did not. [degC]"""


@dataclass(frozen=True)
class Trial:
    """One question of the bisection."""

    way: str
    told_c: float
    answered: bool
    state: str


@dataclass(frozen=True)
class Change:
    """Where the state changes on one way, with 95 % intervals that hold the instrument's U. [degC]"""

    way: str
    state: str
    """What the module commands beyond it."""
    bisected: finder.Threshold
    swept: finder.Threshold | None
    """From the sweeps, extrapolated to rate zero; information beside the bisection."""


@dataclass
class ThresholdResult(VerbResult):
    rising: Change | None = None
    falling: Change | None = None
    hysteresis_c: float | None = None
    hysteresis_u_c: float | None = None
    instrument_u_c: float | None = None
    """Expanded (k = 2) at the threshold; None where the board was never calibrated. [K]"""
    sweeps: list[Sweep] = field(default_factory=list)
    trials: list[Trial] = field(default_factory=list)
    disturbed: int = 0
    """Trials thrown away because foot or brake moved."""
    finding: str = ""
    sentence: str = ""


def instrument_u_c(job: Errand, celsius: float) -> float | None:
    """Standard uncertainty of the stand-in at a temperature; None where never calibrated. [K]"""
    circuit = job.live.circuit
    if circuit.calibration is None:
        return None
    ohm = np.array([float(circuit.sensor.curve.resistance_ohm(celsius))])
    choice = choose.choose_codes(circuit.network, ohm, circuit.module.source)
    known = network_uncertainty(
        circuit.calibration, circuit.network, choice.codes, choice.out, choice.hot,
        circuit.module.source,
    )  # fmt: skip
    slope = abs(float(circuit.sensor.curve.slope_ohm_per_k(celsius)))
    return float(np.max(known.u_ohm)) / slope


def _swept(sweeps: list[Sweep], way: str, u_c: float) -> finder.Threshold | None:
    mine = [s for s in sweeps if s.way == way and s.seen_c is not None]
    if len({s.rate_k_per_s for s in mine}) < 2:
        return None
    found = finder.extrapolated_c(
        [s.rate_k_per_s for s in mine], [s.seen_c for s in mine if s.seen_c is not None]
    )
    return finder.widened(found, u_c)


def conclude(
    job: Errand, result: ThresholdResult, rising: finder.Threshold, falling: finder.Threshold,
    ends: tuple[str, str],
) -> None:  # fmt: skip
    u = instrument_u_c(job, rising.celsius)
    result.instrument_u_c = None if u is None else 2 * u
    if u is None:
        result.warnings.append(
            Remark("search_only", "threshold", "a calibrated board", "a nominal one",
                   "the intervals hold the search alone, not the instrument; run `locum calibrate`")
        )  # fmt: skip
    wide = [finder.widened(x, u or 0.0) for x in (rising, falling)]
    swept = [_swept(result.sweeps, way, u or 0.0) for way in ("rising", "falling")]
    result.rising = Change("rising", ends[1], wide[0], swept[0])
    result.falling = Change("falling", ends[0], wide[1], swept[1])
    # What both share, the instrument, cancels in their difference.
    gap = finder.Hysteresis(rising, falling)
    result.hysteresis_c, result.hysteresis_u_c = gap.width_c, gap.expanded_c
    up, down = wide
    result.sentence = (
        f"'{ends[1]}' comes at {up.celsius:.1f} degC ({up.low_c:.1f} to {up.high_c:.1f}) rising and "
        f"goes at {down.celsius:.1f} degC ({down.low_c:.1f} to {down.high_c:.1f}) falling; "
        f"hysteresis {gap.width_c:.1f} K."
    )
    if u is None:
        result.sentence += " The board was not calibrated: the limits are the search's alone."
    case_id = job.live.store.drive(job.live.drive_id).case_id
    if case_id:
        result.finding = job.live.store.add_finding(
            case_id, "threshold", _finding(job, result, up, down, ends), author_of("")
        )


def _finding(job: Errand, result: ThresholdResult, up, down, ends: tuple[str, str]) -> dict:
    return {"what": ends[1], "drive": job.live.drive_id, "rising_c": up.celsius,
            "rising_low_c": up.low_c, "rising_high_c": up.high_c, "falling_c": down.celsius,
            "falling_low_c": down.low_c, "falling_high_c": down.high_c,
            "hysteresis_c": result.hysteresis_c, "hysteresis_u_c": result.hysteresis_u_c,
            "passes": len(result.trials) + len(result.sweeps), "instrument_u_c": result.instrument_u_c,
            "words": result.sentence}  # fmt: skip
