"""The numbers of a case's page: rates, answers, the proof of a cure, the steps with their tests.

Where the verdict has counted something, the page prints the verdict's count and no other, so that
a table and a sentence beside it cannot disagree.
"""

from __future__ import annotations

import math

from locum.casebook.store import Store
from locum.jobs.arms import ARMS, arm_counts
from locum.report import data as page
from locum.report.number_words import NOTHING_TO_COMPARE, nothing_to_compare
from locum.verdict import exact, quiet
from locum.verdict.evidence import Evidence
from locum.verdict.finding import Number, Step, Suspect, Verdict
from locum.verdict.pool import pool

STATUS = {"shown": "guilty", "cleared": "cleared", "not_knowable": "not knowable"}


def finite(value: float | None) -> float | None:
    """None instead of what a page cannot print."""
    return None if value is None or not math.isfinite(value) else float(value)


def numbers_of(verdict: Verdict) -> dict[str, Number]:
    """Every number of a verdict by its name."""
    found = {n.name: n for step in verdict.steps for n in step.numbers}
    return {**found, **{n.name: n for n in verdict.numbers}}


def rates(evidence: Evidence, verdict: Verdict) -> list[page.RateFacts]:
    """Kick-outs in hours that count, by what fed the module."""
    arms = {label: (events, hours) for label, events, hours in arm_counts(evidence)}
    told = numbers_of(verdict).get("real_over_stand_in_whole_drives")
    if told is not None:  # the same hours as in the step of proof, between given glitches as well
        i = told.inputs
        arms[ARMS[0][0]] = (int(i["real"]), i["real_h"])
        arms.pop(ARMS[1][0], None)
        arms["stand-in, before repair"] = (int(i["stand_in"]), i["stand_in_h"])
    order = (ARMS[0][0], "stand-in, before repair", ARMS[1][0], ARMS[2][0])
    made = []
    for label in order:
        if label in arms and arms[label][1] > 0:
            events, hours = arms[label]
            limits = exact.garwood(events, hours, evidence.confidence)
            made.append(page.RateFacts(label, events, hours, limits.low, limits.high, label.split(",")[0]))  # fmt: skip
    return made


COUNTS = (
    ("followed_unmasked_over_masked", "unmasked", "glitches the module saw, given ones too",
     "unmasked_followed", "unmasked"),
    ("followed_unmasked_over_masked", "masked", "glitches kept from the module",
     "masked_followed", "masked"),
    ("injected_over_blank", "injected", "glitches given to the module", "answered", "injected"),
    ("injected_over_blank", "sham", "blanks between them", "blanks_followed", "blanks"),
)  # fmt: skip
"""Number of the verdict, group of the page, label, its two inputs. All of glitches long enough."""


def counts(verdict: Verdict, confidence: float) -> list[page.CountFacts]:
    """How many were followed by a kick-out, of how many."""
    numbers, made = numbers_of(verdict), []
    for name, group, label, followed, offered in COUNTS:
        number = numbers.get(name)
        if number is None or not number.inputs.get(offered):
            continue
        k, n = int(number.inputs[followed]), int(number.inputs[offered])
        limits = exact.clopper_pearson(k, n, confidence)
        made.append(page.CountFacts(label, k, n, limits.low, limits.high, group))
    return made


def quiet_facts(evidence: Evidence, store: Store, case_id: str) -> page.QuietFacts | None:
    """The quiet time after the repair against the rule that was stamped before it.

    None where nothing was counted before the repair, or nothing has been repaired. Without a stamp
    there is no required time: what was driven is then information and no proof.
    """
    arms = {label: (events, hours) for label, events, hours in arm_counts(evidence)}
    before, after = arms.get(ARMS[0][0]), arms.get(ARMS[2][0])
    repairs = store.findings(case_id, "repair")
    if before is None or not before[0] or not repairs:
        return None
    kicks, driven = after or (0, 0.0)
    stamps = store.findings(case_id, "criterion")
    stamp = stamps[0] if stamps else None
    in_time = stamp is not None and stamp.at_utc <= repairs[0].at_utc
    required = None
    rule = "none was chosen before the repair"
    if stamp is not None:
        body = stamp.body
        events, hours = int(body.get("events", before[0])), float(body.get("hours", before[1]))
        confidence = float(body.get("confidence", evidence.confidence))
        needed = float(body.get("required_h") or quiet.quiet_hours_needed(events, hours, confidence))  # fmt: skip
        rule = f"{body.get('rule', 'exact time')}: {events} in {hours:.2f} h before, {confidence:.0%}".replace("%", " %")  # fmt: skip
        required = finite(needed) if in_time else None
        rule += "" if in_time else "; chosen after the repair, so information only"
    return page.QuietFacts(
        rule=rule, stamped_utc=stamp.at_utc if stamp else "", required_h=required,
        driven_h=driven, kick_outs=kicks, customer_h=store.followed_up(case_id).hours,
        upper_per_h=finite(exact.upper_limit(kicks, driven, evidence.confidence)) if driven else None,
        before_every_h=before[1] / before[0], conditions=_conditions(store, case_id),
        met=bool(driven >= required and kicks == 0) if driven and required is not None else None,
    )  # fmt: skip


def _conditions(store: Store, case_id: str) -> str:
    """What the quiet drives covered, where it was noted."""
    drives = [d for d in store.drives(case_id) if d.kind == "quiet" or d.settings.get("repaired")]
    wet = [d.settings["wet"] for d in drives if "wet" in d.settings]
    if not wet:
        return ""
    if len(wet) == 1:
        return f"one drive, {'wet' if wet[0] else 'dry'}"
    return f"{len(wet)} drives, {sum(wet)} of them wet"


def _inputs(number: Number) -> str:
    """What went in; the rows of one input (``chance_1``, ``chance_2`` ...) stand together."""
    if nothing_to_compare(number.test, number.value, number.inputs):
        return NOTHING_TO_COMPARE
    told: dict[str, list[str]] = {}
    for key, value in number.inputs.items():
        name, _, row = key.rpartition("_")
        told.setdefault(f"each {name}" if row.isdigit() else key, []).append(f"{value:.4g}")
    return ", ".join(f"{key} {' '.join(values)}" for key, values in told.items())


def long_enough_words(evidence: Evidence) -> str:
    """Which glitches tests take as long enough, and until when an answer is looked for."""
    rules, made = pool(evidence).rules, []
    for side, words in ((rules.cold, "towards cold"), (rules.hot, "towards hot")):
        if math.isfinite(side.long_s) and side.measured:
            low, high = side.delay_s
            how = (
                f"measured by {side.injected} given" if side.injected else "as measured beforehand"
            )
            made.append(f"{words} from {1000 * side.long_s:.0f} ms on ({how}), answered {low:.2f} to "
                        f"{high:.2f} s after they began, and up to their length later")  # fmt: skip
    return "; ".join(made)


def _carrier(verdict: Verdict) -> str:
    """The test whose p the conclusion carries."""
    numbers = [*(n for step in verdict.steps for n in step.numbers), *verdict.numbers]
    return next((n.test for n in numbers if not n.unit and n.value == verdict.p_value), "")


def _test(number: Number) -> page.TestFacts:
    """A number that has a unit is no chance: it is told in words, not as p."""
    inputs = _inputs(number)
    if number.unit:
        value = "no limit" if finite(number.value) is None else f"{number.value:.3g} {number.unit}"
        return page.TestFacts(number.test, inputs, None, number.convention, f"{number.name}: {value}")  # fmt: skip
    return page.TestFacts(number.test, inputs, finite(number.value), number.convention, number.name)


def _step(step: Step) -> page.ProofStep:
    return page.ProofStep(
        step.name, step.reached, "", step.observed, [_test(n) for n in step.numbers], step.missing
    )


def _suspect(suspect: Suspect) -> page.SuspectFacts:
    why = "; ".join((*suspect.speaks_for, *suspect.speaks_against))
    return page.SuspectFacts(suspect.name, STATUS.get(suspect.standing, "open"), why)


def _rests_on(verdict: Verdict) -> list[page.TestFacts]:
    """The conclusion's numbers that no step shows."""
    shown = {(n.name, n.value) for step in verdict.steps for n in step.numbers}
    return [_test(n) for n in verdict.numbers if (n.name, n.value) not in shown]


def verdict_facts(verdict: Verdict, looks: int = 0, long_enough: str = "") -> page.VerdictFacts:
    return page.VerdictFacts(
        carried_by=_carrier(verdict), baseline=verdict.baseline, long_enough=long_enough,
        rests_on=_rests_on(verdict),
        proof=verdict.proof, conclusion=verdict.conclusion, culprit=verdict.culprit,
        sentence=verdict.sentence, p_value=finite(verdict.p_value), convention=verdict.convention,
        steps=[_step(step) for step in verdict.steps],
        suspects=[_suspect(s) for s in verdict.suspects], missing=list(verdict.missing),
        next_drive=verdict.next_drive.words if verdict.next_drive else "", looks=looks,
    )  # fmt: skip
