"""The verbs of the command line: listen, hold, follow, sweep, replay, open, short.

Each does its one thing inside an :func:`~locum.jobs.errand.errand` and returns what came of it.
The screens use the same parts with a :class:`~locum.jobs.live.Live` of their own.
"""

from __future__ import annotations

from dataclasses import replace

from locum.errors import Misuse, Refused, Remark
from locum.jobs import standing
from locum.jobs.errand import Errand, VerbResult, errand
from locum.jobs.profiles import open_profile, plan_of
from locum.jobs.provoking import HELD_S, give_contact
from locum.jobs.targets import Target, target_of
from locum.planning.plan import Plan
from locum.planning.timeline import line, timeline
from locum.settings import load_settings
from locum.sheets import values
from locum.sheets.profile import ProfileSheet, Segment

DEFAULT_MINUTES, LONGEST_MINUTES = 10.0, 1440.0
LONGEST_STANDING_S = 14_400


def play(
    job: Errand, profile: ProfileSheet, spans=None, fast: bool = False, leave: bool = False
) -> Plan:
    """Way in, plan, way back. Refused plans leave the real sensor connected.

    With ``leave`` the plan is left running on the board and the recording ends: the laptop may be
    shut, and what the board keeps is fetched later.
    """
    live = job.live
    if leave:
        profile = replace(profile, on_silence="finish")
        job.may_leave()
    standing.prepare(live, load_settings().max_standing_min)
    spans = timeline(profile, job.circuit.sensor.curve, fast) if spans is None else spans
    plan = plan_of(profile, job.circuit, fast, spans=standing.with_way_in(live, spans, fast))
    job.plan = plan
    if job.stopped:
        return plan
    standing.run_plan(live, plan)
    if leave:
        job.leave(plan.seconds)
        return plan
    job.wait(plan.seconds + standing.RETURN_WAIT_S, standing.at_rest)
    job.go_home()
    return plan


def minutes_of(options: dict) -> float:
    """How long, as told or the usual; Misuse for what is no time."""
    minutes = options.get("minutes")
    if minutes is None:
        return DEFAULT_MINUTES
    if not 0 < minutes <= LONGEST_MINUTES:
        raise Misuse(Remark("minutes", "--minutes", f"more than 0, at most {LONGEST_MINUTES:g}",
                            f"{minutes:g}"))  # fmt: skip
    return minutes


def listen(**options) -> VerbResult:
    """Record without touching anything."""
    seconds = 60 * minutes_of(options)
    with errand("listen", options) as job:
        standing.set_lines(job.live)
        job.wait(seconds)
    return job.result


def hold(value: str, fast: bool = False, leave: bool = False, **options) -> VerbResult:
    """Be one value: a temperature, ohms, or what the real sensor is now."""
    target, minutes = target_of(value, load_settings().unit), minutes_of(options)
    with errand("hold", {**options, "value": value, "fast": fast}) as job:
        celsius = _target_c(job, target)
        job.result.told_c = celsius
        profile = ProfileSheet(f"hold {value}", f"hold {value}", "celsius", (), fast=fast)
        spans = timeline(_hold_profile(profile, celsius, minutes), job.circuit.sensor.curve, fast)
        play(job, profile, spans, fast, leave)
    return job.result


def _target_c(job: Errand, target: Target) -> float:
    curve = job.circuit.sensor.curve
    if target.ohm is not None:
        return float(curve.temperature_c(target.ohm))
    if target.celsius is not None:
        return target.celsius
    return standing.reachable_start(job.live, standing.measured_real_c(job.live))


def _hold_profile(profile: ProfileSheet, celsius: float, minutes: float) -> ProfileSheet:
    values_ = {"at": celsius, "minutes": minutes, "wander": None, "wander_period_s": 60.0}
    return replace(profile, segments=(Segment("hold", values_, profile.name),))


def sweep(start: str, end: str, fast: bool = False, leave: bool = False, **options) -> VerbResult:
    """From one temperature to another and back."""
    low, high = _both_c(start, end)
    half = 30 * minutes_of(options)
    with errand("sweep", {**options, "start": start, "end": end, "fast": fast}) as job:
        name = f"sweep {start} {end}"
        spans = [line(name, "sweep", (0, low), (half, high), (2 * half, low))]
        play(job, ProfileSheet(name, name, "celsius", (), fast=fast), spans, fast, leave)
    return job.result


def _both_c(start: str, end: str) -> tuple[float, float]:
    """Both ends of a sweep; Refused with the faults of both at once. [degC]"""
    unit, found, faults = load_settings().unit, [], []
    for words in (start, end):
        try:
            found.append(values.temperature_c(words, unit))
        except Refused as refused:
            faults += refused.remarks
    if not faults and found[0] == found[1]:
        faults = [Remark("no_way", "sweep", "two different temperatures", f"{start} and {end}",
                         "hold it with `locum hold`")]  # fmt: skip
    if faults:
        raise Refused(faults)
    return found[0], found[1]


def replay(
    profile: str,
    fast: bool = False,
    time_column: str = "",
    value_column: str = "",
    leave: bool = False,
    **options,
) -> VerbResult:
    """Play a profile or a recording."""
    sheet = open_profile(profile, time_column, value_column)
    with errand("replay", {**options, "profile": profile, "fast": fast}) as job:
        job.live.store.add_drive_sheet(job.live.drive_id, "profile", sheet.name, sheet.text)
        play(job, sheet, fast=fast, leave=leave)
    return job.result


def follow(**options) -> VerbResult:
    """Be the real sensor without its glitches."""
    seconds = 60 * minutes_of(options)
    with errand("follow", options) as job:
        standing.prepare(job.live, load_settings().max_standing_min)
        _follow_for(job, seconds)
        job.go_home()
    return job.result


def _follow_for(job: Errand, seconds: float, longest_s: float | None = None) -> None:
    live = job.live
    longest = min(max((longest_s or seconds) + 60, 60), LONGEST_STANDING_S)
    live.board.set_limits(standing_s=int(longest))
    standing.start_following(live)
    job.wait(seconds, standing.at_rest)


def _one_contact(verb: str, towards: str, ms: int, options: dict) -> VerbResult:
    if not 1 <= ms <= 60_000:
        raise Misuse(Remark("length", "--ms", "1 to 60000 ms", f"{ms}"))
    with errand(verb, {**options, "ms": ms}) as job:
        standing.prepare(job.live, load_settings().max_standing_min)
        _follow_for(job, 10.0)
        if not job.stopped:
            give_contact(job.live, ms, towards)
            job.wait(ms / 1000 + HELD_S)
        job.go_home()
    return job.result


def give_open(ms: int = 500, **options) -> VerbResult:
    """Open the circuit for a while, from the followed value and back to it."""
    return _one_contact("open", "cold", ms, options)


def give_short(ms: int = 500, **options) -> VerbResult:
    """Short the circuit for a while: out of range hot, whatever the curve says."""
    return _one_contact("short", "hot", ms, options)
