"""``weigh``: from the evidence of a case to a verdict.

The order is fixed: count (tally, pool), conclude by written rules, name the steps of proof, list
what speaks for and against each suspect, advise the next drive. Nothing is looked at twice with
another yardstick, and every number carries its inputs.
"""

from __future__ import annotations

import math

from locum.verdict import exact
from locum.verdict.advice import advise
from locum.verdict.conclude import Conclusion, Limits, conclude
from locum.verdict.evidence import Evidence
from locum.verdict.finding import Advice, Number, Verdict
from locum.verdict.pool import Pool, pool
from locum.verdict.proof import highest, steps
from locum.verdict.suspects import suspects
from locum.verdict.words import CIRCUIT, CONCLUSIONS

STRENGTH = {
    "none": "Nothing is shown yet.",
    "possible": "It is possible by the manual, no more.",
    "coincident": "Kick-outs and glitches coincide more often than chance.",
    "sufficient": "The same disturbance, played in, makes the kick-out.",
    "necessary": "Without the disturbance the kick-outs stay away.",
    "reversible": "They come back with the real sensor, nothing unplugged.",
    "found": "The defect itself was found or measured.",
    "cured": "Repaired, and quiet for long enough.",
}
"""Words of a conclusion about the circuit, from the highest step reached."""


def weigh(evidence: Evidence, limits: Limits | None = None) -> Verdict:
    """Weigh all drives of a case; the words come from the highest step reached."""
    counted = pool(evidence)
    conclusion = conclude(counted, limits)
    made = steps(counted)
    proof = highest(made)
    if conclusion.name == "undecided" and _shown_by_steps(made):
        conclusion = _circuit(counted, made)
    advice, missing_h = advise(counted, conclusion, made)
    sentence = CONCLUSIONS[conclusion.name]
    if conclusion.why:
        sentence += f" {conclusion.why[0].upper()}{conclusion.why[1:]}."
    if conclusion.name in CIRCUIT:
        sentence += " " + STRENGTH[proof]
    return Verdict(
        proof,
        conclusion.name,
        sentence,
        conclusion.p_value,
        conclusion.convention,
        made,
        suspects(counted, conclusion),
        (*conclusion.numbers, *baseline_numbers(counted)),
        tuple(f"{step.name}: {step.missing}" for step in made if step.missing),
        advice,
        missing_h,
        baseline_words(counted),
    )


def assess(evidence: Evidence, limits: Limits | None = None) -> tuple[str, Advice]:
    """Conclusion and advice alone: what ``weigh`` says, without the steps and suspects.

    A case that a technician works asks for both after every drive; thousands of them in a trial ask
    for no more. At the end of the time agreed a complaint that never showed is "not reproduced".
    """
    counted = pool(evidence)
    conclusion = conclude(counted, limits)
    advice, _ = advise(counted, conclusion, None)
    return conclusion.name, advice


def _shown_by_steps(made) -> bool:
    """Coincident, sufficient and necessary together carry the circuit, if not its part."""
    reached = {step.name for step in made if step.reached}
    return {"coincident", "sufficient", "necessary"} <= reached


def _circuit(counted: Pool, made) -> Conclusion:
    number = min(made[3].numbers, key=lambda n: n.value)
    why = "glitches precede kick-outs, played in they make them, masked they do not"
    return Conclusion("sensor_circuit", number.value, number.convention, why, list(made[3].numbers))


def baseline_numbers(counted: Pool) -> list[Number]:
    """The rate before the repair with exact limits, from drives and from the account."""
    numbers = []
    n, hours = len(counted.bursts(masked=False)), counted.hours(masked=False)
    confidence = counted.evidence.confidence
    if hours > 0:
        limits = exact.garwood(n, hours, confidence)
        for name, value in (("rate_low", limits.low), ("rate_high", limits.high)):
            numbers.append(
                Number(name, value, "exact.garwood", {"events": n, "exposure_h": hours,
                       "confidence": confidence}, "two-sided", "1/h")
            )  # fmt: skip
    account = counted.evidence.account
    if account is not None and account.exposed_h > 0:
        limits = exact.garwood_worst_of(
            account.felt, account.exposed_h, max(account.spells, 1), confidence
        )
        inputs = {"events": account.felt, "exposure_h": account.exposed_h,
                  "spells": max(account.spells, 1), "confidence": confidence}  # fmt: skip
        for name, value in (("account_low", limits.low), ("account_high", limits.high)):
            words = "two-sided, corrected for coming when it was worst"
            numbers.append(Number(name, value, "exact.garwood_worst_of", inputs, words, "1/h"))
    return numbers


def baseline_words(counted: Pool) -> str:
    """Where the rate before comes from."""
    hours = counted.hours(masked=False)
    if hours > 0 and counted.bursts(masked=False):
        return f"from recorded drives, {hours:.2f} exposed hours with the real sensor"
    account = counted.evidence.account
    if account is None or not math.isfinite(account.exposed_h):
        return "none yet"
    return (
        f"from the customer's account ({account.felt} in {account.exposed_h:g} h), corrected for "
        f"the worst of {max(account.spells, 1)} spells"
    )
