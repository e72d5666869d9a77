"""``locum threshold``: at what temperature does the module change its mind?

One standing in. First both ends are visited: the commanded state must differ between them. Then
sweeps up and down at two rates, extrapolated to rate zero, and a bisection in either direction,
each trial from the end at which the answer is "no" and only once the module says so there. A trial
in which foot or brake moved is thrown away and made again.
"""

from __future__ import annotations

from locum.errors import Misuse, Refused, Remark
from locum.jobs import standing
from locum.jobs.errand import Errand, errand
from locum.jobs.steady import steady
from locum.jobs.threshold_result import Sweep, ThresholdResult, Trial, conclude
from locum.jobs.threshold_walk import STEP_S, Stopped, Walk
from locum.planning.timeline import RATE_LIMIT_C_PER_S
from locum.review import threshold as finder
from locum.settings import load_settings
from locum.sheets import values

RATES_K_PER_S = (0.3, 0.15)
DWELL_S = 10.0
"""Longer than filter, confirm and shift delay of any module met (common practice). [s]"""
RESET_WAIT_S = 120.0
DISTURBED_AT_MOST = 6
HAND_MINUTES = 240.0


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
        try:
            _measure(job, result, (low, high), rates, resolution, dwell)
        except Stopped:
            result.sentence = "Stopped before the end: no threshold. What was recorded is kept."
        job.go_home()
    return result


def _measure(
    job: Errand, result: ThresholdResult, range_c: tuple[float, float], rates: tuple[float, float],
    resolution: float, dwell: float,
) -> None:  # fmt: skip
    """Both ends, the sweeps, and a bisection each way; Stopped by Ctrl-C."""
    low, high = range_c
    walk = Walk(job, rates[0])
    walk.start()
    ends = _ends(walk, low, high, dwell)
    result.sweeps = _sweeps(walk, low, high, rates, dwell, ends)
    rising = _bisected(walk, result, (low, high), ends, resolution, dwell)
    falling = _bisected(walk, result, (high, low), (ends[1], ends[0]), resolution, dwell)
    conclude(job, result, rising, falling, ends)


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
