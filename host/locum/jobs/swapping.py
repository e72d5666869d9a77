"""``locum swap``: the unseen swap test. Following and the real sensor in stretches drawn by lot.

The draw is made and sealed before the start: its fingerprint is written into the casebook, the draw
itself is kept from everybody until the drive is over and then written beside it, so that anybody can
compare the two. Meanwhile nothing is shown but how to hold the foot (``swap_road.py``), and glitches
like the recorded ones are given while following, so that quiet tells nothing either (``swap_draw.py``).
"""

from __future__ import annotations

import secrets
import sys
from dataclasses import asdict, dataclass, field
from typing import Any

from locum.errors import Remark
from locum.jobs import standing, swap_tally
from locum.jobs.answers import typed_answers
from locum.jobs.cases import author_of, open_casebook
from locum.jobs.errand import Errand, VerbResult, errand
from locum.jobs.swap_draw import REPLAY, UNMEASURED_DELAY_S, Draw, draw, known_of
from locum.jobs.swap_road import Answers, DrivenStretch, drive_stretch

LONGEST_STANDING_S = 14_400


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
    given: tuple[int, int] = (0, 0)
    """The same of glitches given to the module."""
    masked: tuple[int, int] = (0, 0)
    """The same of glitches kept from the module."""
    p_value: float | None = None
    """Of all that the module saw, given ones included, against those kept from it."""
    p_unmasked: float | None = None
    """The same without the given ones."""
    convention: str = ""
    settled: bool = False
    shortest_s: float = 0.0
    codes_possible: list[str] = field(default_factory=list)
    """Codes the glitches given may have set: read and clear them."""
    sentence: str = ""


class UnseenTest:
    """One test from its seal to what it says; on the command line and at the desk."""

    def __init__(self, drawn: Draw, options: dict[str, Any], result: SwapResult) -> None:
        self.draw, self.options, self.result = drawn, options, result
        plan = drawn.plan
        result.seal, result.planned = plan.seal, len(plan.stretches)
        result.settling_chance, result.shortest_s = drawn.settles, drawn.known.shortest_s or 0.0
        result.warnings += _remarks(drawn.known.shortest_s)

    def seal(self) -> None:
        """Write the fingerprint before the start."""
        plan, drawn = self.draw.plan, self.draw
        self.result.sealed_finding = self._write("draw_sealed", {
            "seal": plan.seal, "stretches": len(plan.stretches), "alpha": plan.alpha,
            "given_in_each": drawn.replay, "given_ms": drawn.known.usual_ms,
            "words": f"Draw of {len(plan.stretches)} stretches sealed: {plan.seal}"})  # fmt: skip

    def prepare(self, job: Errand) -> None:
        standing.prepare(job.live)
        job.live.board.set_limits(standing_s=LONGEST_STANDING_S)

    def stretch(self, job: Errand, number: int, answers: Answers = lambda: None) -> None:
        """Drive one stretch, counted from 1."""
        rows = self.result.stretches
        rows.append(drive_stretch(job, self.draw, number, rows[-1] if rows else None, answers))

    def reveal(self, job: Errand) -> None:
        """Count, say what it says, and write the draw beside its fingerprint."""
        result, plan, known = self.result, self.draw.plan, self.draw.known
        vehicle = job.circuit.vehicle
        tops = {s.name for s in vehicle.states if s.top} if vehicle else set()
        made = swap_tally.tallied(
            result.stretches, job.live.findings, tops, result.shortest_s,
            known.delay_s or UNMEASURED_DELAY_S, plan.alpha,
        )  # fmt: skip
        for name in ("unmasked", "given", "masked", "p_value", "p_unmasked", "convention",
                     "settled", "sentence"):  # fmt: skip
            setattr(result, name, getattr(made, name))
        result.seed = plan.seed
        if made.given[1]:
            result.codes_possible = list(job.circuit.module.codes)
        rows = [{**asdict(one), "given_s": self.draw.given_s(n)}
                for n, one in enumerate(plan.stretches, 1)]  # fmt: skip
        felt = {row.number: row.felt for row in result.stretches}
        self._write("draw_revealed", {
            "seal": plan.seal, "seed": str(plan.seed), "drive": job.live.drive_id, "felt": felt,
            "stretches": [asdict(s) for s in plan.stretches], "with_given": rows,
            "words": result.sentence})  # fmt: skip

    def _write(self, kind: str, body: dict[str, Any]) -> str:
        """A finding of the case, where there is one; without a case the recording holds the seal."""
        if not self.options.get("case"):
            return ""
        with open_casebook(self.options.get("casebook")) as store:
            case_id = store.case_id_from(self.options["case"])
            return store.add_finding(case_id, kind, body, author_of(""))


def swap_test(
    stretches: int | None = None, minutes: float | None = None, rate: float | None = None,
    chance: float = 0.9, draw_seed: int | None = None, replay: int = REPLAY, **options,
) -> SwapResult:  # fmt: skip
    """Draw, seal, drive unseen, reveal, and answer: does a kick-out follow only what is seen?"""
    seed = secrets.randbits(63) if draw_seed is None else draw_seed
    drawn = draw(stretches, minutes, rate, chance, seed, replay, known_of(options))
    test = UnseenTest(drawn, options, SwapResult("swap", "", 0.0))
    test.seal()
    kept = {**options, "seal": drawn.plan.seal, "stretches": len(drawn.plan.stretches)}
    with errand("swap", kept) as job:
        test.result = job.result = _taken_over(test.result, job.result)
        test.prepare(job)
        print(f"Draw sealed: {drawn.plan.seal}. Nothing is told until the end.", file=sys.stderr)
        answers = typed_answers()
        for number in range(1, len(drawn.plan.stretches) + 1):
            if job.stopped:
                break
            print(f"Stretch {number}.", file=sys.stderr)
            test.stretch(job, number, answers)
        job.go_home()
    test.reveal(job)
    return test.result


def _taken_over(result: SwapResult, base: VerbResult) -> SwapResult:
    """The result with what the errand knows of its recording."""
    warnings = [*base.warnings, *result.warnings]
    for name, value in vars(base).items():
        setattr(result, name, value)
    result.warnings = warnings
    return result


def _remarks(shortest_s: float | None) -> list[Remark]:
    made = [
        Remark("clicks_audible", "board", "a relay that nobody hears",
               "every boundary is a burst of 8 to 13 clicks, too quick to be counted by ear",
               "put the board out of hearing: a recording of the sound could be counted")
    ]  # fmt: skip
    if shortest_s is None:
        made.append(
            Remark("shortest_unknown", "swap", "the shortest glitch that the module answers",
                   "not measured, so every glitch is asked about",
                   "run `locum shortest --case ID` first; it makes the test stronger")
        )  # fmt: skip
    return made
