"""The sentences of the customer's page, made from the report's numbers and nothing else."""

from __future__ import annotations

from locum.report.data import CaseReport, QuietFacts
from locum.report.numbers import digits, long_hours, percent, times


def demonstrated(
    quiet: QuietFacts | None, confidence: float, reader: str = "customer"
) -> list[str]:
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
        who = "you drove yourself" if reader == "customer" else "the customer drove"
        out.append(f"{long_hours(quiet.customer_h)} of this {who}.")
    return [sentence for sentence in out if sentence]


def cure(report: CaseReport, reader: str) -> list[str]:
    """What is to be said of a cure, also where nothing has been repaired."""
    if report.quiet is None and report.found is None:
        return ["Nothing has been repaired yet, so there is no cure to prove."]
    return demonstrated(report.quiet, report.confidence, reader)


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


def why_not(report: CaseReport) -> str:
    """Why the sensor's circuit is not blamed, by how often the fault came with and without it.

    Empty where the circuit is blamed, or where the two have not both been driven.
    """
    if report.verdict.culprit == "sensor_circuit":
        return ""
    real = next((r for r in report.rates if r.connected.startswith("real")), None)
    without = next((r for r in report.rates if r.connected.startswith(("stand", "follow"))), None)
    if real is None or without is None or not without.events:
        return ""
    return (
        f"With the original sensor connected it happened {times(real.events)} in "
        f"{long_hours(real.hours)}; while another source stood in for the sensor it still happened "
        f"{times(without.events)} in {long_hours(without.hours)}."
    )


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


CONCLUSIONS = {
    "sensor_side": "The fault came from the sensor or its plug.",
    "sensor_slow_error": "The sensor read wrong.",
    "connector": "The fault came from the sensor's connector.",
    "harness": "The fault came from the wiring between sensor and control module.",
    "sensor_circuit": "The fault came from the sensor's circuit: sensor, plug or wiring. "
    "Which of them has not been told apart by measuring.",
    "circuit_not_reproduced_after_tap": "The fault went away when the circuit was unplugged; its "
    "contacts are suspect.",
    "module_or_ground": "The sensor's circuit is not to blame: the fault goes on without it. The "
    "control module or its ground is suspect.",
    "another_input": "The sensor's circuit is not to blame: the fault goes on without it. Another "
    "signal into the control module is suspect.",
    "driver_or_brake_input": "The sensor's circuit is not to blame: the fault comes with the brake "
    "pedal or its switch.",
    "not_sensor_circuit": "The sensor's circuit is not to blame: the fault goes on without it.",
    "outputs_or_hydraulics": "The control module gives the right commands; what carries them out "
    "is suspect.",
    "normal": "What was felt follows what the driver did; no fault was found.",
    "not_reproduced": "The fault did not show on the test drives, so its cause is not known.",
    "undecided": "The cause is not known yet.",
}
"""The verdict's conclusions in words that need no knowledge of the trade."""
SHOWN = ("necessary", "reversible", "found", "cured")
"""Steps of proof from which on the circuit may be blamed without reserve."""
PROVED = {
    "cured": " It has been repaired, and the car was driven without the fault for long enough.",
    "found": " The defect itself was seen or recorded.",
}


def came_back(report: CaseReport) -> bool:
    """The fault was seen or felt again after the repair: a fallen rate is then no cure."""
    return report.quiet is not None and report.quiet.kick_outs > 0


def headline(report: CaseReport, reader: str = "workshop") -> str:
    """The one sentence on top; for the customer in plain words, with how far it was proved."""
    verdict = report.verdict
    if reader == "customer" and verdict.conclusion in CONCLUSIONS:
        words = CONCLUSIONS[verdict.conclusion]
        if verdict.culprit != "sensor_circuit":
            return words
        if verdict.proof not in SHOWN and words.startswith("The "):
            return "So far the evidence points this way, but it is not proved: " + words
        if verdict.proof == "cured" and came_back(report):
            return words + " After the repair it came back, so it is not cured."
        return words + PROVED.get(verdict.proof, "")
    if verdict.sentence:
        return verdict.sentence
    return "No conclusion has been drawn yet."
