"""The verbs of the command line: listen, hold, follow, sweep, replay, open, short, glitch.

Each opens a circuit and a board, records a drive, does its one thing, goes home, and returns what
came of it. The screens use the same parts with a :class:`~locum.jobs.live.Live` of their own.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from locum.casebook.store import Store
from locum.errors import BoardFault, LinkTrouble, Misuse, Remark
from locum.jobs import standing
from locum.jobs.circuit import Circuit, open_circuit
from locum.jobs.connection import connected
from locum.jobs.interrupts import Interrupts
from locum.jobs.jsontext import Result
from locum.jobs.live import Live, begin, trip_remark
from locum.jobs.profiles import open_profile, plan_of
from locum.jobs.targets import Target, target_of
from locum.locations import casebook_path
from locum.planning.plan import Plan
from locum.planning.timeline import line, timeline
from locum.settings import load_settings
from locum.sheets import values
from locum.sheets.profile import ProfileSheet

DEFAULT_MINUTES = 10.0
HAND_MINUTES = 20.0
RECOVERED_S = 5.0
"""After a provocation the module must have held its state this long before the next. [s]"""
LONGEST_RECOVERY_S = 120.0


@dataclass
class VerbResult(Result):
    """What came of one recording."""

    verb: str
    drive: str
    seconds: float
    steps: int = 0
    worst_error_c: float | None = None
    kick_outs: int = 0
    glitches: int = 0
    releases: int = 0
    injected: int = 0
    answered: int = 0
    exposure_h: float = 0.0
    told_c: float | None = None
    true_c: float | None = None
    ended: str = "done"
    board: str = ""
    casebook: str = ""
    refusals: list[Remark] = field(default_factory=list)
    warnings: list[Remark] = field(default_factory=list)

    @property
    def exit_code(self) -> int:
        return BoardFault.exit_code if self.ended == "tripped" else 0


@dataclass
class Errand:
    """What every verb needs: the running recording, its circuit, Ctrl-C and the result so far."""

    live: Live
    circuit: Circuit
    interrupts: Interrupts
    result: VerbResult
    plan: Plan | None = None

    def wait(self, seconds: float, until: Callable[[Live], bool] = lambda live: False) -> bool:
        """Let time pass; ends early on Ctrl-C or a trip. True if ``until`` came to hold."""
        stop = self.interrupts.count
        self.live.wait(
            seconds,
            lambda live: (
                until(live) or live.status.state == "tripped" or self.interrupts.count > stop
            ),
        )
        return until(self.live)

    @property
    def stopped(self) -> bool:
        return self.interrupts.count > 0 or self.live.status.state == "tripped"

    def go_home(self) -> None:
        """Ease back; a second Ctrl-C on the way brings the real sensor now."""
        live, before = self.live, self.interrupts.count
        if live.status.state in ("holding", "running"):
            live.board.ease_back()
        again = max(before, 1)
        live.wait(
            standing.RETURN_WAIT_S,
            lambda x: standing.at_rest(x) or self.interrupts.count > again,
        )
        if not standing.at_rest(live):
            standing.real_sensor_now(live)


@contextmanager
def errand(verb: str, options: dict) -> Iterator[Errand]:
    """Open everything, hand over the errand, and close everything in the right order."""
    settings = load_settings()
    path = options.get("casebook") or settings.casebook or casebook_path()
    with Store.open(Path(path)) as store:
        case_id = options.get("case")
        case_id = store.case_id_from(case_id) if case_id else None
        sheets = case_sheets(store, case_id)
        circuit = open_circuit(
            options.get("sensor") or sheets.get("sensor", (None,))[0],
            options.get("module") or sheets.get("module", (None,))[0],
            options.get("vehicle") or sheets.get("vehicle", (None,))[0],
            options.get("board_sheet"),
            {name: text for name, text in sheets.values()},
        )
        board = options.get("board") or settings.board or None
        with connected(
            board, circuit.board, options.get("seed") or 1, options.get("speed")
        ) as link:
            kept = {k: v for k, v in options.items() if v is not None}
            live = begin(link, circuit, store, verb, case_id, {"command": verb, "options": kept})
            result = VerbResult(verb, live.drive_id, 0.0, board=link.identity.serial,
                                casebook=str(Path(path).resolve()))  # fmt: skip
            result.warnings += circuit.remarks
            with Interrupts() as interrupts:
                yield from _guarded(Errand(live, circuit, interrupts, result))


def _guarded(job: Errand) -> Iterator[Errand]:
    live = job.live
    how = "failed"
    try:
        yield job
        how = "tripped" if live.status.state == "tripped" else "done"
        how = "stopped" if job.interrupts.count and how == "done" else how
    finally:
        _let_go(live)
        fill(job.result, live, how, job.plan)


def _let_go(live: Live) -> None:
    """Whatever happened, the real sensor; a link that is gone lets go by itself."""
    try:
        if not standing.at_rest(live):
            standing.real_sensor_now(live)
    except LinkTrouble:
        pass


def fill(result: VerbResult, live: Live, how: str, plan: Plan | None) -> None:
    """The numbers of a finished recording."""
    last = live.glance()
    found = live.end(how)
    result.seconds = live.now_ms / 1000
    result.kick_outs = len(found.kick_outs)
    result.releases = len(found.releases)
    result.glitches = sum(not g.ours for g in found.glitches)
    result.injected = len(found.injections)
    result.answered = sum(i.answered_ms is not None for i in found.injections)
    result.exposure_h = found.exposure.exposed_s / 3600
    result.true_c, result.ended = last.true_c, how
    if how == "tripped":
        result.warnings.append(trip_remark(live.status.cause))
    if plan is not None:
        result.steps, result.worst_error_c = len(plan), plan.worst_error_c
        result.warnings += plan.warnings


def case_sheets(store: Store, case_id: str | None) -> dict[str, tuple[str, str]]:
    """Role -> (name, text) of the sheets a case has in use."""
    if not case_id:
        return {}
    return {sheet.role: (sheet.name, sheet.text) for sheet in store.sheets(case_id)}


def play(job: Errand, profile: ProfileSheet, spans=None, fast: bool = False) -> Plan:
    """Way in, plan, way back. Refused plans leave the real sensor connected."""
    live = job.live
    standing.prepare(live, HAND_MINUTES)
    spans = timeline(profile, job.circuit.sensor.curve, fast) if spans is None else spans
    plan = plan_of(profile, job.circuit, fast, spans=standing.with_way_in(live, spans, fast))
    job.plan = plan
    standing.run_plan(live, plan)
    live.tick()
    job.wait(plan.seconds + standing.RETURN_WAIT_S, standing.at_rest)
    job.go_home()
    return plan


def listen(**options) -> VerbResult:
    """Record without touching anything."""
    with errand("listen", options) as job:
        standing.set_lines(job.live)
        job.wait(60 * (options.get("minutes") or DEFAULT_MINUTES))
    return job.result


def hold(value: str, fast: bool = False, **options) -> VerbResult:
    """Be one value: a temperature, ohms, or what the real sensor is now."""
    target = target_of(value, load_settings().unit)
    with errand("hold", {**options, "value": value, "fast": fast}) as job:
        minutes = options.get("minutes") or DEFAULT_MINUTES
        celsius = _target_c(job, target)
        job.result.told_c = celsius
        profile = ProfileSheet(f"hold {value}", f"hold {value}", "celsius", (), fast=fast)
        spans = timeline(_hold_profile(profile, celsius, minutes), job.circuit.sensor.curve, fast)
        play(job, profile, spans, fast)
    return job.result


def _target_c(job: Errand, target: Target) -> float:
    curve = job.circuit.sensor.curve
    if target.ohm is not None:
        return float(curve.temperature_c(target.ohm))
    if target.celsius is not None:
        return target.celsius
    return standing.reachable_start(job.live, standing.measured_real_c(job.live))


def _hold_profile(profile: ProfileSheet, celsius: float, minutes: float) -> ProfileSheet:
    from dataclasses import replace

    from locum.sheets.profile import Segment

    values_ = {"at": celsius, "minutes": minutes, "wander": None, "wander_period_s": 60.0}
    return replace(profile, segments=(Segment("hold", values_, profile.name),))


def sweep(start: str, end: str, fast: bool = False, **options) -> VerbResult:
    """From one temperature to another and back."""
    unit = load_settings().unit
    low, high = values.temperature_c(start, unit), values.temperature_c(end, unit)
    with errand("sweep", {**options, "start": start, "end": end, "fast": fast}) as job:
        half = 60 * (options.get("minutes") or DEFAULT_MINUTES) / 2
        name = f"sweep {start} {end}"
        spans = [line(name, "sweep", (0, low), (half, high), (2 * half, low))]
        play(job, ProfileSheet(name, name, "celsius", (), fast=fast), spans, fast)
    return job.result


def replay(
    profile: str, fast: bool = False, time_column: str = "", value_column: str = "", **options
) -> VerbResult:
    """Play a profile or a recording."""
    sheet = open_profile(profile, time_column, value_column)
    with errand("replay", {**options, "profile": profile, "fast": fast}) as job:
        job.live.store.add_drive_sheet(job.live.drive_id, "profile", sheet.name, sheet.text)
        play(job, sheet, fast=fast)
    return job.result


def follow(**options) -> VerbResult:
    """Be the real sensor without its glitches."""
    with errand("follow", options) as job:
        standing.prepare(job.live, HAND_MINUTES)
        _follow_for(job, 60 * (options.get("minutes") or DEFAULT_MINUTES))
        job.go_home()
    return job.result


def _follow_for(job: Errand, seconds: float) -> None:
    live = job.live
    live.board.set_limits(standing_s=int(min(max(seconds + 60, 60), 14400)))
    standing.start_following(live)
    live.tick()
    job.wait(seconds, standing.at_rest)


def open_circuit_for(job: Errand, length_ms: int, towards: str) -> None:
    """One open (towards cold) or short (towards hot) of the module's line."""
    if towards == "cold":
        job.live.board.open_(length_ms)
    else:
        job.live.board.short_(length_ms)


def _one_contact(verb: str, towards: str, ms: int, options: dict) -> VerbResult:
    if not 1 <= ms <= 60_000:
        raise Misuse(Remark("length", "--ms", "1 to 60000 ms", f"{ms}"))
    with errand(verb, {**options, "ms": ms}) as job:
        standing.prepare(job.live, HAND_MINUTES)
        _follow_for(job, 10.0)
        if not job.stopped:
            open_circuit_for(job, ms, towards)
            job.wait(ms / 1000 + RECOVERED_S)
        job.go_home()
    return job.result


def open_circuit(ms: int = 500, **options) -> VerbResult:
    """Open the circuit for a while, from the followed value and back to it."""
    return _one_contact("open", "cold", ms, options)


def short_circuit(ms: int = 500, **options) -> VerbResult:
    """Short the circuit for a while: out of range hot, whatever the curve says."""
    return _one_contact("short", "hot", ms, options)


def recovered(live: Live) -> bool:
    """The module has its held state again; without a vehicle sheet nobody can tell."""
    return live.circuit.vehicle is None or live.glance().held


def provoke(job: Errand, lengths_ms: list[int], count: int, every_s: float, towards: str,
            seed: int) -> None:  # fmt: skip
    """Glitches and as many blanks in random order, each only once the module has recovered."""
    rng = random.Random(seed)
    trials = [ms for ms in lengths_ms for _ in range(count)] + [0] * (len(lengths_ms) * count)
    rng.shuffle(trials)
    for length_ms in trials:
        job.wait(every_s * rng.uniform(0.8, 1.2))
        if not job.wait(LONGEST_RECOVERY_S, recovered) or job.stopped:
            break
        job.live.store.add_mark(
            job.live.drive_id,
            job.live.now_ms,
            "injected" if length_ms else "blank",
            0,
            str(length_ms),
        )
        if length_ms:
            open_circuit_for(job, length_ms, towards)


def glitch(
    ms: list[int] | None = None,
    count: int = 6,
    every: float = 20.0,
    towards: str = "cold",
    **options,
) -> VerbResult:
    """Follow the real sensor and give the module glitches, blanks between."""
    lengths = ms or [300]
    if any(not 1 <= length <= 60_000 for length in lengths) or count < 1 or every < 1:
        raise Misuse(Remark("glitch", "glitch", "lengths of 1 to 60000 ms, 1 s or more apart",
                            f"{lengths}, every {every:g} s"))  # fmt: skip
    with errand("glitch", {**options, "ms": lengths, "count": count, "every": every}) as job:
        standing.prepare(job.live, HAND_MINUTES)
        _follow_for(job, 5.0)
        job.live.board.set_limits(standing_s=14400)
        provoke(job, lengths, count, every, towards, options.get("seed") or 1)
        job.wait(every)
        job.go_home()
    return job.result
