"""``locum threshold``: at what temperature does the module change its mind?

One standing in. First both ends are visited: the commanded state must differ between them. Then
sweeps up and down at two rates, extrapolated to rate zero, and a bisection in either direction,
each trial from the end at which the answer is "no" and only once the module says so there. A trial
in which foot or brake moved is thrown away and made again.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from locum.errors import BoardFault, Misuse, Refused, Remark
from locum.jobs import standing
from locum.jobs.cases import author_of
from locum.jobs.errand import Errand, VerbResult, errand
from locum.jobs.live import Live, trip_remark
from locum.jobs.provoking import HELD_S, held_for_s
from locum.physics import choose
from locum.physics.uncertainty import network_uncertainty
from locum.planning.timeline import RATE_LIMIT_C_PER_S
from locum.review import threshold as finder
from locum.settings import load_settings
from locum.sheets import values

STEP_S = 0.25
"""The stand-in moves this often; at the highest rate 0.08 K at a time. [s]"""
RATES_K_PER_S = (0.3, 0.15)
DWELL_S = 10.0
"""Longer than filter, confirm and shift delay of any module met (PRACTICE 6.5). [s]"""
RESET_WAIT_S = 120.0
DISTURBED_AT_MOST = 6
HAND_MINUTES = 240.0


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


class Walk:
    """The stand-in moved by hand, with what it was told at each time."""

    def __init__(self, job: Errand, rate: float) -> None:
        self.job, self.live, self.rate = job, job.live, rate
        self.curve = job.circuit.sensor.curve
        self.track: list[tuple[float, float]] = []
        """(time, degC) as the board really set it. [s]"""

    @property
    def celsius(self) -> float:
        return self.track[-1][1]

    def be(self, celsius: float) -> None:
        """The nearest rung to a temperature, now."""
        ohm = self.live.board.set_resistance(float(self.curve.resistance_ohm(celsius)))
        self.track.append((self.live.now_ms / 1000, float(self.curve.temperature_c(ohm))))

    def start(self) -> None:
        """Stand in at the real value."""
        celsius = standing.reachable_start(self.live, standing.measured_real_c(self.live))
        self.be(celsius)
        self.live.board.stand_in()
        self.live.stretch("stand_in", "still")
        self.live.tick(0.5)

    def to(self, celsius: float, rate: float | None = None) -> None:
        """Go there at a rate, no faster than is allowed. [K/s]"""
        at, step = self.celsius, (rate or self.rate) * STEP_S
        for n in range(1, math.ceil(abs(celsius - at) / step) + 1):
            self.be(at + math.copysign(min(n * step, abs(celsius - at)), celsius - at))
            self.wait(STEP_S)

    def wait(self, seconds: float, until: Callable[[Live], bool] = lambda live: False) -> bool:
        met = self.job.wait(seconds, until)
        if self.job.interrupts.count:
            raise Refused(Remark("stopped", "threshold", "to go on to the end", "Ctrl-C",
                                 "begin again; what was recorded is kept"))  # fmt: skip
        if self.live.status.state == "tripped":
            raise BoardFault(trip_remark(self.live.status.cause))
        return met

    @property
    def state(self) -> str:
        states = self.live.findings.states
        return states[-1][1] if states else ""

    def touched(self) -> int:
        """How often foot and brake have moved so far."""
        found = self.live.findings
        return len(found.brake) + len(found.throttle)


def threshold(
    start: str, end: str, resolution: float = 0.5, dwell: float = DWELL_S, rate: float | None = None,
    **options,
) -> ThresholdResult:  # fmt: skip
    """Find where the commanded state changes between two temperatures, both ways."""
    unit = load_settings().unit
    low, high = sorted((values.temperature_c(start, unit), values.temperature_c(end, unit)))
    rates = _rates(rate)
    _check(low, high, resolution, dwell)
    kept = {**options, "start": low, "end": high, "resolution": resolution}
    with errand("threshold", kept) as job:
        result = ThresholdResult(**vars(job.result))
        job.result = result
        standing.prepare(job.live, HAND_MINUTES)
        _check_circuit(job, low, high)
        steady(job)
        walk = Walk(job, rates[0])
        walk.start()
        ends = _ends(walk, low, high, dwell)
        result.sweeps = _sweeps(walk, low, high, rates, dwell, ends)
        rising = _bisected(walk, result, (low, high), ends, resolution, dwell)
        falling = _bisected(walk, result, (high, low), (ends[1], ends[0]), resolution, dwell)
        _conclude(job, result, rising, falling, ends)
        job.go_home()
    return result


def _rates(rate: float | None) -> tuple[float, float]:
    fast = RATES_K_PER_S[0] if rate is None else rate
    if not 0 < fast <= RATE_LIMIT_C_PER_S:
        raise Misuse(Remark("rate", "--rate", f"up to {RATE_LIMIT_C_PER_S:g} K/s", f"{fast:g}"))
    return fast, fast / 2


def _check(low: float, high: float, resolution: float, dwell: float) -> None:
    faults = []
    if high - low < 2 * resolution or resolution <= 0:
        faults.append(Remark("range", "threshold", "a range of twice the resolution or more",
                             f"{low:g} to {high:g} degC by {resolution:g} K"))  # fmt: skip
    if not 1 <= dwell <= 600:
        faults.append(Remark("dwell", "--dwell", "1 to 600 s", f"{dwell:g}"))
    if faults:
        raise Misuse(faults)


def _check_circuit(job: Errand, low: float, high: float) -> None:
    """Lines to tell the state, and a network that reaches both ends."""
    circuit, faults = job.circuit, []
    if circuit.vehicle is None or not circuit.vehicle.states:
        faults.append(Remark("no_states", "threshold", "a vehicle sheet that names the states",
                             "none", "give --vehicle, or learn one with `locum learn lines`"))  # fmt: skip
    for celsius in (low, high):
        reach = sorted(circuit.network.reach_ohm)
        ohm = float(circuit.sensor.curve.resistance_ohm(celsius))
        if not reach[0] <= ohm <= reach[1]:
            faults.append(Remark("out_of_reach", f"{celsius:g} degC",
                                 f"{reach[0]:.0f} to {reach[1]:.0f} ohm", f"{ohm:.0f} ohm",
                                 "choose another end"))  # fmt: skip
    highest = circuit.vehicle.highest_c if circuit.vehicle else None
    if highest is not None and high > highest:
        faults.append(Remark("too_hot", f"{high:g} degC", f"at most {highest:g} degC (vehicle sheet)",
                             f"{high:g} degC"))  # fmt: skip
    if faults:
        raise Refused(faults)


def steady(job: Errand, wait_s: float = 900.0) -> bool:
    """Wait until the module holds its state, then ask for a still foot; whether it came to hold."""
    held = job.wait(wait_s, lambda live: held_for_s(live) >= HELD_S)
    ask_foot(job.live, still=True)
    if not held:
        job.result.warnings.append(
            Remark("not_held", "module", "the held state on the real sensor before the test",
                   f"not within {wait_s / 60:.0f} min", "drive steadily and warm")
        )  # fmt: skip
    return held


def ask_foot(live: Live, still: bool) -> None:
    """Tell the driver how to drive; the virtual driver hears it too."""
    print("Foot still: steady road, no brake." if still else "Drive as usual.", file=sys.stderr)
    if live.connection.virtual:
        live.connection.body.world.tell("foot_still", on=still)


def _ends(walk: Walk, low: float, high: float, dwell: float) -> tuple[str, str]:
    """The states at both ends; Refused if they are the same."""
    found = []
    for celsius in (low, high):
        walk.to(celsius)
        walk.wait(2 * dwell)
        found.append(walk.state)
    if found[0] == found[1] or "" in found:
        raise Refused(
            Remark("no_change", "threshold", f"another state at {high:g} than at {low:g} degC",
                   f"'{found[0]}' at both", "widen the range, or drive so that the state may come")
        )  # fmt: skip
    return found[0], found[1]


def _sweeps(
    walk: Walk, low: float, high: float, rates: tuple[float, float], dwell: float,
    ends: tuple[str, str],
) -> list[Sweep]:  # fmt: skip
    """Falling and rising through the range at each rate, from the hot end where the walk stands."""
    made = []
    for rate in rates:
        for way, goal, home in (("falling", low, ends[1]), ("rising", high, ends[0])):
            walk.wait(RESET_WAIT_S, lambda live, home=home: walk.state == home)
            begun, touched = walk.live.now_ms, walk.touched()
            walk.to(goal, rate)
            walk.wait(dwell)
            states = [(t / 1000, name) for t, name in walk.live.findings.states if t >= begun]
            track = [row for row in walk.track if row[0] >= begun / 1000 - STEP_S]
            seen = finder.from_sweep(track, [(begun / 1000, home), *states], home)["down"]
            fit = len(seen) == 1 and walk.touched() == touched
            made.append(Sweep(way, rate, seen[0] if fit else None))
    return made


def _bisected(
    walk: Walk, result: ThresholdResult, range_c: tuple[float, float], ends: tuple[str, str],
    resolution: float, dwell: float,
) -> finder.Threshold:  # fmt: skip
    """Halve from the end where the answer is "no"; every trial begins there, in its state."""
    search = finder.Bisection(*range_c, resolution)
    way = "rising" if range_c[1] > range_c[0] else "falling"
    most, disturbed = search.steps_needed + 4, 0
    while not search.done and search.trials < most:
        asked = search.next_c
        walk.to(range_c[0])
        if not walk.wait(RESET_WAIT_S, lambda live: walk.state == ends[0]):
            raise Refused(Remark("no_reset", "threshold", f"'{ends[0]}' at {range_c[0]:g} degC",
                                 f"'{walk.state}'", "drive as before and begin again"))  # fmt: skip
        touched = walk.touched()
        walk.to(asked)
        told = walk.celsius
        walk.wait(dwell)
        if walk.touched() != touched or walk.state not in ends:
            disturbed += 1
            result.disturbed += 1
            if disturbed > DISTURBED_AT_MOST:
                raise Refused(Remark("disturbed", "threshold", "trials with a still foot",
                                     f"{disturbed} disturbed ones", "find a steady road"))  # fmt: skip
            continue
        yes = walk.state == ends[1]
        result.trials.append(Trial(way, told, yes, walk.state))
        search.answer(yes)
        # What counts is where the board really stood, the nearest rung to what was asked.
        search.yes_c, search.no_c = (told, search.no_c) if yes else (search.yes_c, told)
    return search.result


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


def _conclude(
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
            "passes": len(result.trials) + len(result.sweeps), "instrument_u_c": result.instrument_u_c,
            "words": result.sentence}  # fmt: skip
