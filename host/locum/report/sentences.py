"""The sentences of the customer's page, made from the report's numbers and nothing else."""

from __future__ import annotations

from locum.report.data import CaseReport, QuietFacts
from locum.report.numbers import digits, long_hours, percent, times


def demonstrated(quiet: QuietFacts | None, confidence: float) -> list[str]:
    """How sure it is that the fault has gone, with the limit that was demonstrated."""
    if quiet is None or quiet.driven_h <= 0:
        return [
            "The repaired car has not yet been driven long enough to say anything with numbers."
        ]
    before = ""
    if quiet.before_every_h:
        before = f" in which it used to happen about once in {long_hours(quiet.before_every_h)}"
    out = [
        f"In {long_hours(quiet.driven_h)} of the kind of driving{before}, "
        + (f"it happened {times(quiet.kick_outs)}." if quiet.kick_outs else "it did not happen.")
    ]
    if quiet.upper_per_h:
        out.append(
            f"With {percent(confidence)} confidence it now happens less often than once in "
            f"{long_hours(1 / quiet.upper_per_h)} of such driving "
            f"(less than {digits(quiet.upper_per_h, 2)} per hour)."
        )
    out.append(_against_rule(quiet))
    if quiet.customer_h:
        out.append(f"{long_hours(quiet.customer_h)} of this you drove yourself.")
    return [sentence for sentence in out if sentence]


def _against_rule(quiet: QuietFacts) -> str:
    if quiet.required_h is None:
        return "No length of drive was agreed beforehand, so this is information and not a proof."
    asked = f"{long_hours(quiet.required_h)} without the fault were asked for beforehand"
    if quiet.met is True:
        return f"{asked}; that has been reached."
    if quiet.met is False and quiet.kick_outs:
        return f"{asked}; the fault came back, so it is not proved cured."
    still = max(quiet.required_h - quiet.driven_h, 0.0)
    if still:
        return f"{asked}; {long_hours(still)} are still missing."
    return f"{asked}; it is not yet decided."


def watch_for(report: CaseReport) -> list[str]:
    """What the customer should look out for."""
    out = ["If it happens again, note the time, the weather and how long you had been driving."]
    if report.complaint.conditions:
        out.insert(0, f"Watch in the conditions it used to come in: {report.complaint.conditions}.")
    if report.quiet and report.quiet.conditions:
        out.append(
            f"The test drives covered: {report.quiet.conditions}. Other conditions were not tried."
        )
    follow_up = next((item for item in report.hand_back if item.item == "follow_up_set"), None)
    if follow_up and follow_up.note:
        out.append(f"We will ask you how it went on {follow_up.note}.")
    return out


STEPS = {
    "possible": "The complaint fits what this input can do.",
    "coincident": "Disturbances of the input came before the fault more often than by chance.",
    "sufficient": "Making the same disturbance on purpose made the fault.",
    "necessary": "Keeping the disturbance away kept the fault away.",
    "reversible": "With the original connected again, the fault came back.",
    "found": "The defect itself was seen or recorded.",
    "cured": "After the repair, the car was driven quietly for the time asked for beforehand.",
}
"""The steps of proof in plain words, for readers who meet them for the first time."""


def headline(report: CaseReport) -> str:
    """The one sentence on top."""
    if report.verdict.sentence:
        return report.verdict.sentence
    return "No conclusion has been drawn yet."
