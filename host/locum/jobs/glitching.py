"""``locum glitch``: the module is given glitches, made or captured, in random order with blanks between.

While following. The next comes only once the module has held its state again. What would come near the
count at which a module calls a sensor erratic is refused unless asked for with ``--fast``; codes that
an open or short of half a second may set are named and kept with the case, to be cleared at hand-back.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field

from locum.errors import Misuse, Refused, Remark
from locum.jobs import possible_codes, standing
from locum.jobs.errand import Errand, VerbResult, errand
from locum.jobs.provoking import LONGEST_RECOVERY_S, provoke_for
from locum.jobs.shapes import Shape, give, open_shape, span_of
from locum.planning import judge
from locum.planning.timeline import Span, line

LONGEST_STANDING_S = 14_400
LONGEST_MS = 60_000
USUAL_MS = 300
FOLLOWED_FIRST_S = 5.0
MOST_TOGETHER = 8
"""Repeats that the count of jumps is looked for in; its window is 7 s."""


@dataclass
class GlitchResult(VerbResult):
    planned: int = 0
    given: int = 0
    blanks: int = 0
    profiles: list[str] = field(default_factory=list)
    codes_possible: list[str] = field(default_factory=list)
    """Codes the glitches may have set: read and clear them before the car is handed back."""


def glitch(
    ms: list[int] | None = None, profile: list[str] | None = None, count: int = 6,
    every: float = 20.0, towards: str = "cold", fast: bool = False, **options,
) -> GlitchResult:  # fmt: skip
    """Follow the real sensor and give the module glitches, blanks between."""
    shapes = [open_shape(name) for name in profile or ()]
    lengths = ms or ([] if shapes else [USUAL_MS])
    _check(lengths, count, every)
    kept = {**options, "ms": lengths, "count": count, "every": every, "towards": towards,
            "profiles": [s.name for s in shapes]}  # fmt: skip
    with errand("glitch", kept) as job:
        result = job.result = GlitchResult(**vars(job.result))
        result.profiles = [s.name for s in shapes]
        standing.prepare(job.live)
        _objections(job, lengths, shapes, every, towards, fast)
        job.live.board.set_limits(standing_s=LONGEST_STANDING_S)
        standing.start_following(job.live)
        job.wait(FOLLOWED_FIRST_S, standing.at_rest)
        _give(job, result, [*lengths, *shapes], count, every, towards)
        job.wait(every)
        job.go_home()
    _keep_codes(job, result, options)
    return result


def _check(lengths: list[int], count: int, every: float) -> None:
    faults = []
    wrong = [ms for ms in lengths if not 1 <= ms <= LONGEST_MS]
    if wrong:
        faults.append(Remark("length", "--ms", f"1 to {LONGEST_MS} ms", ", ".join(map(str, wrong))))
    if not 1 <= count <= 500:
        faults.append(Remark("count", "--count", "1 to 500 of each", str(count)))
    if not 1 <= every <= 3600:
        faults.append(Remark("every", "--every", "1 to 3600 s apart", f"{every:g} s"))
    if faults:
        raise Misuse(faults)


def _trains(job: Errand, lengths: list[int], shapes: list[Shape], every: float, towards: str) -> list[Span]:  # fmt: skip
    """Each kind of glitch as if it came again and again: what is judged."""
    contact = 1 if towards == "cold" else 2
    at, made = 80.0, []
    for ms in lengths:
        name = f"{ms} ms"
        made.append(line(name, "glitches", (0, at), (every, at), (every + ms / 1000, at),
                         contact=(0, contact, 0), times=MOST_TOGETHER))  # fmt: skip
    for shape in shapes:
        circuit = job.circuit
        one = span_of(shape, circuit.sensor.curve, shape.quiet_ohm, circuit.network.reach_ohm)
        made.append(one)
    return made


def _objections(job: Errand, lengths, shapes, every: float, towards: str, fast: bool) -> None:
    """Refuse what a module would call erratic, unless asked for; name the codes."""
    trains = _trains(job, lengths, shapes, every, towards)
    counted = judge.plausibility_warnings(trains)
    if counted and not fast:
        remedy = "space them wider with --every, or ask for it with --fast and expect a code"
        raise Refused([Remark(r.code, r.where, r.wanted, r.found, remedy) for r in counted])
    job.result.warnings += counted
    module = job.circuit.module
    for train in trains:
        dwell_ms = 1000 * (train.t_s[1:] - train.t_s[:-1])
        job.result.warnings += judge.code_warnings(train.contact[:-1], dwell_ms, module)


def _give(job: Errand, result: GlitchResult, kinds: list, count: int, every: float, towards: str) -> None:  # fmt: skip
    live = job.live

    order = secrets.randbits(32)
    result.planned = len(kinds) * count
    result.given, result.blanks = provoke_for(
        live,
        kinds,
        count,
        every,
        order,
        lambda kind: give(live, kind, towards),
        lambda: job.stopped,
    )
    if result.given < result.planned and not job.stopped:
        result.warnings.append(
            Remark("not_recovered", "module", "the held state again before the next glitch",
                   f"not within {LONGEST_RECOVERY_S:.0f} s after {result.given} of {result.planned}",
                   "read codes: it may keep to a substitute until the next start")
        )  # fmt: skip


def _keep_codes(job: Errand, result: GlitchResult, options: dict) -> None:
    if not result.given or not any(w.code in ("codes_possible", "plausibility_count")
                                   for w in result.warnings):  # fmt: skip
        return
    codes = job.circuit.module.codes
    result.codes_possible = possible_codes.names_of(codes)
    if options.get("case"):
        from locum.jobs.cases import open_casebook

        with open_casebook(options.get("casebook")) as store:
            case_id = store.case_id_from(options["case"])
            if any(
                f.body["drive"] == result.drive
                for f in store.findings(case_id, possible_codes.KIND)
            ):
                return  # long ones were kept when the recording ended
            possible_codes.keep(store, case_id, result.drive, codes, "the glitches given")
