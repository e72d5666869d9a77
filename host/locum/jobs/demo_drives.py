"""The drives of the demo: what the technician does in the van, one function per kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from locum.casebook.store import Store
from locum.errors import BoardFault
from locum.jobs import standing
from locum.jobs.arms import arm_counts
from locum.jobs.circuit import Circuit
from locum.jobs.connection import Connection
from locum.jobs.evidence import case_evidence
from locum.jobs.live import Live, begin
from locum.jobs.provoking import give_contact, provoke_for
from locum.jobs.trips import trip_remark
from locum.verdict import quiet as quiet_time
from locum.verdict.finding import Verdict
from locum.verdict.weigh import weigh

POLL_S, GIVING_POLL_S = 10.0, 3.0
"""On the road nothing here decides anything quicker; the record has every millisecond. [s]"""
LONGEST_DRIVE_S = 2.0 * 3600
BETWEEN_H = 14.0
"""The van stands overnight: every drive starts cold."""
LONGEST_STANDING_S = 14_400
SHORT_GRID_MS = (40, 80, 160, 320)
GIVEN_OF_EACH = 3
QUIET_MARGIN_H = 0.03
"""Driven beyond what the rule asks for, so that a rounded hour cannot leave it open. [h]"""
DRY_KINDS = ("provoke",)
"""Like with like: what is compared is driven in the rain, where the complaint comes. What is given to
the module needs no rain."""
GIVEN_EVERY_S = 45.0
FURTHER_AT_MOST, LEAST_FURTHER_H, MOST_FURTHER_H = 3, 0.4, 1.0
"""Further drives under the mask, and how long each may be. [h]"""
CONFIDENCE = 0.95


@dataclass
class DemoCase:
    store: Store
    case_id: str
    circuit: Circuit
    connection: Connection
    world: Any
    seed: int
    say: Callable[[str], None]
    repaired: bool = False
    drives: int = 0
    heard_ms: list[float] = field(default_factory=list)
    """Lengths of the real sensor's glitches that a kick-out followed. [ms]"""

    def lengths_to_give_ms(self) -> list[int]:
        """Rising lengths to find the shortest that the module answers, and the one that was heard:
        shorter glitches than it answers may neither link nor blame."""
        heard = sorted(self.heard_ms)
        middle = int(heard[len(heard) // 2]) if heard else 300
        return sorted({*SHORT_GRID_MS, min(max(middle, SHORT_GRID_MS[-1]), 5000)})

    def weighed(self) -> Verdict:
        return weigh(case_evidence(self.store, self.case_id))

    def circuit_blamed(self) -> bool:
        return self.weighed().culprit == "sensor_circuit"

    def required_quiet_h(self, baseline: tuple[int, float]) -> float:
        events, hours = baseline
        return quiet_time.quiet_hours_needed(events, hours, CONFIDENCE) if events else 1.3

    def repair(self) -> float:
        """Stamp the rule, then repair: the terminals of the circuit are made new.

        Returns the quiet time that the rule asks for. [h]
        """
        label, events, hours = arm_counts(case_evidence(self.store, self.case_id))[0]
        required = self.required_quiet_h((events, hours))
        self.store.add_finding(
            self.case_id, "criterion",
            {"rule": "exact time", "before": label, "events": events, "hours": hours,
             "confidence": CONFIDENCE, "required_h": required}, "demo",
        )  # fmt: skip
        self.world.tell("repair")
        self.repaired = True
        self.store.add_finding(
            self.case_id, "found",
            {"words": "Green, spread terminal found in the coolant sensor's circuit",
             "cause": "corroded terminal", "where": "coolant sensor circuit"}, "demo",
        )  # fmt: skip
        self.store.add_finding(
            self.case_id, "repair",
            {"words": "Terminals replaced and crimped anew, loom fixed away from the bracket",
             "done": "The sensor's plug was given new terminals."}, "demo",
        )  # fmt: skip
        self.say(f"Repaired. Quiet time that counts still to drive: {required:.2f} h.")
        return required + QUIET_MARGIN_H


class DemoDrive:
    """One drive from engine start to the key: a context manager that yields a running Live."""

    def __init__(self, case: DemoCase, kind: str, wet: bool, words: str) -> None:
        self.case, self.kind, self.wet, self.words = case, kind, wet, words

    def __enter__(self) -> Live:
        case = self.case
        case.drives += 1
        case.world.tell("tap", where="module")
        settings = {"tap": "module", "repaired": case.repaired, "note": self.words, "wet": self.wet,
                    "abilities": ["node", "ohmmeter"]}  # fmt: skip
        self.live = begin(
            case.connection, case.circuit, case.store, self.kind, case.case_id, settings
        )
        standing.set_lines(self.live)
        self.live.wait(3.0)
        case.world.tell("engine_start")
        self.live.wait(5.0)
        case.world.tell("drive", wet=self.wet)
        return self.live

    def __exit__(self, kind, error, trace) -> None:
        live, case = self.live, self.case
        # The recording ends on the road: what the driver does to park is nobody's evidence.
        found = live.end("done" if error is None else "failed")
        for act, seconds in (("park", 6.0), ("engine_stop", 3.0)):
            case.world.tell(act)
            case.connection.clock.wait(seconds)
        exposure_h = found.exposure.exposed_s / 3600
        answered = sum(x.answered_ms is not None for x in found.injections)
        given = f", {len(found.injections)} given, {answered} answered" if found.injections else ""
        case.say(
            f"{self.kind:<8} {live.now_ms / 60000:5.1f} min, {exposure_h:5.2f} h that count, "
            f"kick-outs {len(found.kick_outs)}, glitches of the real sensor "
            f"{sum(not g.ours for g in found.glitches)}{given}"
        )
        case.world.tell("cool_down", hours=BETWEEN_H)


def exposed_h(live: Live) -> float:
    return live.findings.exposure.exposed_s / 3600


def drive_until(live: Live, hours: float) -> None:
    """Drive until so much time has counted, or the drive has become long enough."""

    def enough(x: Live) -> bool:
        return exposed_h(x) >= hours or x.status.state == "tripped"

    live.wait(LONGEST_DRIVE_S, enough, POLL_S)
    if live.status.state == "tripped":
        raise BoardFault(trip_remark(live.status.cause))


def start_standing(live: Live) -> None:
    """Follow for as long as the drive lasts."""
    standing.prepare(live)
    live.board.set_limits(standing_s=LONGEST_STANDING_S)
    standing.start_following(live)


def _drives(case: DemoCase, kind: str, hours: float, words: str, act=None) -> tuple[int, float]:
    """Drives of one kind until the hours are full; kick-outs and hours that count."""
    events, done = 0, 0.0
    while hours - done > 0.01:
        with DemoDrive(case, kind, kind not in DRY_KINDS, words) as live:
            (act or drive_until)(live, hours - done)
        found = live.findings
        events += len(found.kick_outs)
        done += found.exposure.exposed_s / 3600
        linked = {r.linked_glitch for r in found.kick_outs}
        case.heard_ms += [g.length_ms for g in found.glitches if g.t_ms in linked and not g.ours]
    return events, done


def listen(case: DemoCase, hours_wanted: float) -> tuple[int, float]:
    return _drives(case, "listen", hours_wanted, "nothing touched, circuit and outputs recorded")


def reverse(case: DemoCase, hours_wanted: float) -> tuple[int, float]:
    return _drives(case, "reverse", hours_wanted, "real sensor again, no connector touched")


def quiet(case: DemoCase, hours_wanted: float) -> tuple[int, float]:
    return _drives(case, "quiet", hours_wanted, "after the repair, real sensor")


def follow(case: DemoCase, hours_wanted: float) -> tuple[int, float]:
    """Stand in at the real value from the first minute on; fan and lamp stay honest."""

    def act(live: Live, hours: float) -> None:
        start_standing(live)
        drive_until(live, hours)
        standing.home(live)

    return _drives(case, "follow", hours_wanted, "stand-in follows, glitches left out", act)


def further(case: DemoCase) -> None:
    """While it is undecided: more glitches kept from the module, as the verdict's advice says.

    How many came under the mask is luck; too few and nobody can say that none was followed.
    """
    for _ in range(FURTHER_AT_MOST):
        verdict = case.weighed()
        if verdict.conclusion != "undecided":
            return
        hours = verdict.next_drive.hours_to_settle if verdict.next_drive else LEAST_FURTHER_H
        case.say(f"Undecided so far: {verdict.missing[0] if verdict.missing else 'drive on'}.")
        follow(case, min(max(LEAST_FURTHER_H, hours), MOST_FURTHER_H))


def provoke(case: DemoCase, hours_wanted: float, lengths_ms: list[int]) -> tuple[int, float]:
    """Give rising lengths and the heard one to the module, blanks between, once it has recovered."""

    def act(live: Live, hours: float) -> None:
        warm = hours * 0.02
        drive_until(live, min(warm, 0.02))
        start_standing(live)
        provoke_for(
            live, lengths_ms, GIVEN_OF_EACH, GIVEN_EVERY_S, case.seed,
            lambda ms: give_contact(live, ms, "cold"), lambda: exposed_h(live) >= hours, GIVING_POLL_S,
        )  # fmt: skip
        drive_until(live, hours)
        standing.home(live)

    words = f"opens of {', '.join(map(str, lengths_ms))} ms given, blanks between"
    return _drives(case, "provoke", hours_wanted, words, act)
