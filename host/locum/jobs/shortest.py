"""``locum shortest``: the shortest glitch that the module answers, on a grid of lengths.

Following the real sensor, opens (or shorts) of falling lengths are given, each only once the module
has held its state again; then the bracket is halved. A length counts as answered when two trials
of it were. A trial in which foot or brake moved, or which review calls nobody's, is made again.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from locum.errors import Misuse, Refused, Remark
from locum.jobs import standing
from locum.jobs.cases import author_of, open_casebook
from locum.jobs.errand import Errand, VerbResult, errand
from locum.jobs.provoking import HELD_S, LONGEST_RECOVERY_S, give_contact, held_for_s
from locum.jobs.steady import steady, touched
from locum.review.findings import Injection
from locum.review.shortest import GRID_MS, ShortestAnswered, delays_ms

LONGEST_STANDING_S = 14_400
ANSWER_S = 5.0
"""So long after the end of a glitch the answer may come; review's look-back is shorter. [s]"""
TRIALS_AT_MOST = 80
KIND = "shortest"


@dataclass
class ShortestResult(VerbResult):
    shortest_answered_ms: int | None = None
    """None: nothing on the grid was answered."""
    longest_unanswered_ms: int = 0
    delay_ms: tuple[int, int] | None = None
    """From a glitch's start to the answer, shortest and longest. [ms]"""
    tried: dict[int, list[bool]] = field(default_factory=dict)
    disturbed: int = 0
    codes_possible: list[str] = field(default_factory=list)
    """Codes the glitches may have set: read and clear them."""
    finding: str = ""
    sentence: str = ""


def shortest(
    longest: int = 2000, towards: str = "cold", ratio: float = 1.25, **options
) -> ShortestResult:
    """Search downwards from the longest length; the result is kept with the case."""
    if not GRID_MS[-1] <= longest <= GRID_MS[0] or not 1.02 <= ratio <= 2:
        raise Misuse(Remark("shortest", "shortest", f"{GRID_MS[-1]} to {GRID_MS[0]} ms, ratio 1.02 to 2",
                            f"{longest} ms, {ratio:g}"))  # fmt: skip
    with errand("shortest", {**options, "longest": longest, "towards": towards}) as job:
        result = ShortestResult(**vars(job.result))
        job.result = result
        standing.prepare(job.live)
        _check_vehicle(job)
        steady(job)
        job.live.board.set_limits(standing_s=LONGEST_STANDING_S)
        standing.start_following(job.live)
        search = ShortestAnswered(ratio)
        _search(job, result, search, longest, towards)
        job.go_home()
    # Review hands an injection on some time after it: all are there once the recording has ended.
    _conclude(job, result, search, longest, towards)
    if options.get("case") and result.shortest_answered_ms is not None:
        _keep(result, options["case"], options.get("casebook"), towards)
    return result


def _check_vehicle(job: Errand) -> None:
    vehicle = job.circuit.vehicle
    if vehicle is None or not any(state.top for state in vehicle.states):
        raise Refused(Remark("no_states", "shortest", "a vehicle sheet that names the held state",
                             "none", "give --vehicle, or learn one with `locum learn lines`"))  # fmt: skip


def _search(
    job: Errand, result: ShortestResult, search: ShortestAnswered, longest: int, towards: str
) -> None:
    for length in GRID_MS:
        if length > longest:
            search.tried[length] = [True, True]  # taken for answered, never asked, never told
    for _ in range(TRIALS_AT_MOST):
        length = search.next_ms
        if length is not None and length > longest:
            length = None
        if length is None or job.stopped:
            return
        answered = _trial(job, length, towards)
        if answered is None:
            result.disturbed += 1
        else:
            search.answer(length, answered)


def _trial(job: Errand, length_ms: int, towards: str) -> bool | None:
    """One glitch of that length; None if it was disturbed."""
    live = job.live
    if not job.wait(LONGEST_RECOVERY_S, lambda x: held_for_s(x) >= HELD_S):
        if job.stopped:
            return None
        raise Refused(Remark("not_recovered", "shortest", "the held state again before the next",
                             f"not within {LONGEST_RECOVERY_S:.0f} s",
                             "read codes: it may keep to a substitute until the next start"))  # fmt: skip
    before, moves = live.now_ms, touched(live)
    give_contact(live, length_ms, towards)
    job.wait(length_ms / 1000 + ANSWER_S)
    if touched(live) != moves:
        return None
    came = [r for r in live.findings.releases if r.t_ms >= before]
    if any(r.cause != "ours" for r in came):
        return None
    return bool(came)


def _conclude(
    job: Errand, result: ShortestResult, search: ShortestAnswered, longest: int, towards: str
) -> None:
    tried = {length: row for length, row in sorted(search.tried.items()) if length <= longest}
    low, high = search.bracket_ms
    high = high if high in tried else None
    result.tried, result.longest_unanswered_ms, result.shortest_answered_ms = tried, low, high
    given: list[Injection] = job.live.findings.injections
    result.delay_ms = delays_ms(given)
    result.codes_possible = list(job.circuit.module.codes)
    if high is None:
        result.sentence = f"No glitch up to {max(tried, default=0)} ms was answered: it does not follow from them."
    else:
        first, last = result.delay_ms or (0, 0)
        below = f"{low} ms was not" if low else "nothing shorter was tried"
        result.sentence = (f"{high} ms towards {towards} was answered, {below}; "
                           f"the answer came {first} to {last} ms after the glitch began.")  # fmt: skip


def _keep(result: ShortestResult, case: str, casebook: str | None, towards: str) -> None:
    """Write the result into the case, where the verdict reads it."""
    body: dict[str, Any] = {
        "drive": result.drive, "towards": towards,
        "shortest_answered_ms": result.shortest_answered_ms,
        "longest_unanswered_ms": result.longest_unanswered_ms, "delay_ms": result.delay_ms,
        "tried": {str(k): v for k, v in result.tried.items()}, "words": result.sentence,
    }  # fmt: skip
    with open_casebook(casebook) as store:
        case_id = store.case_id_from(case)
        result.finding = store.add_finding(case_id, KIND, body, author_of(""))
