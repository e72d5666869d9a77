"""``locum swap``: the unseen swap test. Following and the real sensor in stretches drawn by lot.

The draw is made and sealed before the start: its fingerprint is written into the casebook, the draw
itself is kept from everybody until the drive is over and then written beside it, so that anybody can
compare the two. Meanwhile nothing is shown but how to hold the foot. At every boundary the relay
clicks, whether or not anything changes: where nothing changes it goes over and back. A board with
one relay cannot hide the number of clicks; the result says so. A trip unblinds its stretch: it is
recorded, and left out of the test.
"""

from __future__ import annotations

import secrets
import sys
from dataclasses import asdict, dataclass, field
from typing import Any

from locum.errors import Misuse, Remark
from locum.jobs import standing
from locum.jobs.cases import author_of, open_casebook
from locum.jobs.errand import Errand, VerbResult, errand
from locum.jobs.evidence import case_evidence
from locum.jobs.thresholds import ask_foot
from locum.review.findings import Findings
from locum.verdict import exact, swap

BOUNDARY_S = 45.0
"""Every boundary takes so long, whatever is done in it; nothing in it counts. [s]"""
LONGEST_STANDING_S = 14_400
UNMEASURED_DELAY_S = 2.0
"""Look-back where the module's delay was never measured. [s]"""
GAP_S = 1.5
"""Glitches closer than this are one burst. [s]"""
MINUTES = 10.0


@dataclass
class DrivenStretch:
    """One stretch as it was driven, told after the drive."""

    number: int
    connected: str
    foot: str
    start_s: float
    end_s: float
    unblinded: bool = False
    """A trip showed what was connected."""
    glitches: int = 0
    """Bursts long enough, while the state was held."""
    followed: int = 0
    """Of them followed by a kick-out."""


@dataclass
class SwapResult(VerbResult):
    seal: str = ""
    sealed_finding: str = ""
    seed: int = 0
    stretches: list[DrivenStretch] = field(default_factory=list)
    planned: int = 0
    settling_chance: float | None = None
    """Chance, before the start, that the drive settles it; None where no rate was known."""
    unmasked: tuple[int, int] = (0, 0)
    """Kick-outs that followed, of glitches long enough that the module saw."""
    masked: tuple[int, int] = (0, 0)
    """The same of glitches kept from the module."""
    p_value: float | None = None
    convention: str = ""
    shortest_s: float = 0.0
    sentence: str = ""


def draw(
    stretches: int | None, minutes: float | None, rate: float | None, chance: float, seed: int
) -> tuple[swap.SwapPlan, float | None]:
    """The draw, and the chance that it settles the matter."""
    length = MINUTES if minutes is None else minutes
    if not 1 <= length <= 120 or not 0.05 < chance < 1 or (rate is not None and rate <= 0):
        raise Misuse(Remark("swap", "swap", "stretches of 1 to 120 min, a chance between 0.05 and 1, "
                            "a rate above zero", f"{length:g} min, {chance:g}, {rate}"))  # fmt: skip
    if stretches is None:
        if rate is None:
            raise Misuse(Remark("how_many", "swap", "--stretches, or a rate to plan them by", "neither",
                                "give --rate, glitches an hour, or a case that has recorded some"))  # fmt: skip
        hours = swap.hours_needed(rate, chance)
        stretches = 4 * max(1, -int(-hours * 60 // (4 * length)))
    if stretches < 4 or stretches % 4:
        raise Misuse(Remark("stretches", "--stretches", "4, 8, 12 ...: each block holds real and "
                            "follow, foot normal and still", str(stretches)))  # fmt: skip
    hours = stretches * length / 60
    plan = swap.draw(hours, rate or 1.0, seed, 60 * length)
    return plan, plan.chance if rate else None


def swap_test(
    stretches: int | None = None, minutes: float | None = None, rate: float | None = None,
    chance: float = 0.9, draw_seed: int | None = None, **options,
) -> SwapResult:  # fmt: skip
    """Draw, seal, drive unseen, reveal, and answer: does a kick-out follow only what is seen?"""
    shortest_s, delay_s, known_rate = _known(options)
    seed = secrets.randbits(63) if draw_seed is None else draw_seed
    plan, settles = draw(stretches, minutes, rate or known_rate, chance, seed)
    sealed = _write(options, "draw_sealed", {
        "seal": plan.seal, "stretches": len(plan.stretches),
        "words": f"Draw of {len(plan.stretches)} stretches sealed: {plan.seal}"})  # fmt: skip
    with errand("swap", {**options, "seal": plan.seal, "stretches": len(plan.stretches)}) as job:
        result = SwapResult(**vars(job.result))
        job.result = result
        result.seal, result.sealed_finding, result.settling_chance = plan.seal, sealed, settles
        result.planned, result.shortest_s = len(plan.stretches), shortest_s or 0.0
        result.warnings += _remarks(shortest_s)
        standing.prepare(job.live)
        job.live.board.set_limits(standing_s=LONGEST_STANDING_S)
        print(f"Draw sealed: {plan.seal}. Nothing is told until the end.", file=sys.stderr)
        for number, one in enumerate(plan.stretches, 1):
            if job.interrupts.count:
                break
            result.stretches.append(_drive(job, number, one))
        job.go_home()
    _reveal(result, plan, job.live.findings, _top_states(job), delay_s or UNMEASURED_DELAY_S)
    _write(options, "draw_revealed", {
        "seal": plan.seal, "seed": str(plan.seed), "drive": result.drive,
        "stretches": [asdict(s) for s in plan.stretches], "words": result.sentence})  # fmt: skip
    return result


def _known(options: dict) -> tuple[float | None, float | None, float | None]:
    """(shortest answered [s], longest delay [s], glitches long enough per exposed hour) of a case."""
    if not options.get("case"):
        return None, None, None
    with open_casebook(options.get("casebook")) as store:
        evidence = case_evidence(store, store.case_id_from(options["case"]))
    least, delay = evidence.shortest_answered_s, evidence.module_delay_s
    count, seconds = 0, 0.0
    for drive in evidence.drives:
        if drive.node is not None and not drive.repaired and drive.kind == "listen":
            inside = [any(a <= t < b for a, b in drive.exposed) for t in drive.node.t_s]
            count += int(sum(i and x >= (least or 0) for i, x in zip(inside, drive.node.length_s, strict=True)))  # fmt: skip
            seconds += sum(b - a for a, b in drive.exposed)
    rate = 3600 * count / seconds if count and seconds else None
    return least, delay[1] if delay else None, rate


def _write(options: dict, kind: str, body: dict[str, Any]) -> str:
    """A finding of the case, where there is one; without a case the recording holds the seal."""
    if not options.get("case"):
        return ""
    with open_casebook(options.get("casebook")) as store:
        return store.add_finding(store.case_id_from(options["case"]), kind, body, author_of(""))


def _remarks(shortest_s: float | None) -> list[Remark]:
    made = [
        Remark("clicks_countable", "board", "as many clicks whether or not anything changes",
               "one relay: one click where it changes, two where it does not",
               "put the board where nobody who drives or watches can hear it")
    ]  # fmt: skip
    if shortest_s is None:
        made.append(
            Remark("shortest_unknown", "swap", "the shortest glitch that the module answers",
                   "not measured, so every glitch is asked about",
                   "run `locum shortest --case ID` first; it makes the test stronger")
        )  # fmt: skip
    return made


def _drive(job: Errand, number: int, one: swap.SwapStretch) -> DrivenStretch:
    """A boundary and its stretch."""
    live = job.live
    print(f"Stretch {number}.", file=sys.stderr)
    ask_foot(live, one.foot == "still")
    tripped = not _boundary(job, one.connected)
    connected = "real" if standing.at_rest(live) else "follow"
    live.stretch(connected, one.foot, {"swap": number})
    row = DrivenStretch(number, one.connected, one.foot, live.now_ms / 1000, 0.0, tripped)
    end_s = live.clock.now_s() + one.length_s
    following = one.connected == "follow"
    left_early = job.wait(one.length_s, lambda x: following and standing.at_rest(x))
    if (left_early or live.status.state == "tripped") and not row.unblinded:
        row.unblinded = True
    if row.unblinded:
        _note_trip(job, number)
        live.stretch("real", one.foot, {"swap": number, "unblinded": True})
        job.wait(max(0.0, end_s - live.clock.now_s()))
    row.end_s = live.now_ms / 1000
    return row


def _boundary(job: Errand, connected: str) -> bool:
    """Go over to what the next stretch wants; False if the board tripped or could not follow.

    The relay moves at every boundary: where nothing changes it goes over and back.
    """
    live = job.live
    live.stretch("follow", "normal", {"boundary": True})  # cut by the record where the relay let go
    end_s = live.clock.now_s() + BOUNDARY_S
    standing_in = not standing.at_rest(live)
    if standing_in:
        live.board.ease_back()
        live.wait(standing.RETURN_WAIT_S, standing.at_rest)
        if not standing.at_rest(live):
            standing.real_sensor_now(live)
    if connected == "follow" or not standing_in:
        _follow(job)
    if connected == "real" and not standing.at_rest(live):
        live.board.ease_back()
        live.wait(standing.RETURN_WAIT_S, standing.at_rest)
    fine = live.status.state != "tripped"
    if not fine:
        _note_trip(job, 0)
    job.wait(max(0.0, end_s - live.clock.now_s()))
    return fine and standing.at_rest(live) == (connected == "real")


def _follow(job: Errand) -> None:
    """As ``standing.start_following``, which opens a stretch of its own."""
    live = job.live
    celsius = standing.reachable_start(live, standing.measured_real_c(live))
    live.board.set_resistance(float(live.circuit.sensor.curve.resistance_ohm(celsius)))
    live.board.follow()
    live.tick(0.05)


def _note_trip(job: Errand, number: int) -> None:
    live = job.live
    live.store.add_mark(live.drive_id, live.now_ms, "unblinded", 0, f"stretch {number}")
    if live.status.state == "tripped":
        live.board.clear_trip()
        live.tick(0.5)


def _top_states(job: Errand) -> set[str]:
    vehicle = job.circuit.vehicle
    return {s.name for s in vehicle.states if s.top} if vehicle else set()


def _bursts(found: Findings, channel: str, least_s: float) -> list[tuple[float, float]]:
    """(start, length of the longest) of bursts of the sensor's own glitches, long enough. [s]"""
    made: list[tuple[float, float, float]] = []
    for g in found.glitches:
        if g.ours or g.channel != channel:
            continue
        start, length = g.t_ms / 1000, g.length_ms / 1000
        if made and start - made[-1][1] < GAP_S:
            made[-1] = (made[-1][0], start + length, max(made[-1][2], length))
        else:
            made.append((start, start + length, length))
    return [(start, length) for start, _, length in made if length >= least_s]


def tally(
    row: DrivenStretch, found: Findings, tops: set[str], least_s: float, delay_s: float
) -> None:
    """Count a stretch's glitches and those a kick-out followed.

    Left out are glitches while the state was not held, and those near a release that has another
    cause: they say nothing either way.
    """
    channel = "ohmmeter" if row.connected == "follow" else "node"
    for start, length in _bursts(found, channel, least_s):
        if not row.start_s <= start < row.end_s - delay_s or not _held(found, tops, start):
            continue
        near = [r for r in found.releases if start <= r.t_ms / 1000 <= start + length + delay_s]
        if any(r.cause in ("driver", "road", "ours") for r in near):
            continue
        row.glitches += 1
        row.followed += any(r.kick_out for r in near)


def _held(found: Findings, tops: set[str], t_s: float) -> bool:
    """Whether the held state stood at a time; without named states nobody can tell: yes."""
    if not tops:
        return True
    before = [name for t_ms, name in found.states if t_ms / 1000 <= t_s]
    return bool(before) and before[-1] in tops


def _reveal(
    result: SwapResult, plan: swap.SwapPlan, found: Findings, tops: set[str], delay_s: float
) -> None:
    result.seed = plan.seed
    sums = {"real": [0, 0], "follow": [0, 0]}
    for row in result.stretches:
        tally(row, found, tops, result.shortest_s, delay_s)
        if not row.unblinded:
            sums[row.connected][0] += row.followed
            sums[row.connected][1] += row.glitches
    (k1, n1), (k2, n2) = sums["real"], sums["follow"]
    result.unmasked, result.masked = (k1, n1), (k2, n2)
    head = f"A kick-out followed {k1} of {n1} glitches that the module saw and {k2} of {n2} kept from it"
    if not n1 or not n2:
        result.sentence = f"{head}: nothing to compare, drive on."
        return
    test = exact.fisher(k1, n1, k2, n2, ("unmasked", "masked"))
    result.p_value, result.convention = test.p_value, test.convention
    settled = test.p_value <= plan.alpha
    said = "settled: what the module sees is the cause" if settled else "not settled"
    result.sentence = f"{head} (Fisher, p {test.p_value:.2g}): {said}."
