"""The rule that ends the quiet drive, chosen before the repair, and how much is still to drive.

``locum quiet rule`` stamps it into the case (finding kind "criterion"); ``locum quiet left`` counts
by the stamped rule. The other rule is worked out too, but as information only: whoever may choose
after the fact which of two rules has been met ends too early too often.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, field
from typing import Any

from locum.casebook.store import Store
from locum.errors import Refused, Remark
from locum.jobs.arms import ARMS, arm_counts
from locum.jobs.cases import author_of, open_casebook
from locum.jobs.evidence import case_evidence
from locum.jobs.jsontext import Result
from locum.settings import load_settings
from locum.verdict import exact, quiet
from locum.verdict.evidence import Evidence

RULES = {"exact": "exact time", "sequential": "sequential test"}
GOOD_SHARE = 0.1
"""A repaired car is taken to have at most a tenth of the bad rate, unless told otherwise."""
TRUNCATED_AT = 3.0
"""A sequential test still open after this many zero-event times is given up."""


@dataclass(frozen=True)
class Baseline:
    """What the fault did before the repair, in exposed hours."""

    source: str
    """``drives`` or ``account``."""
    events: int
    hours: float
    spells: int = 1
    """The spell told of was the worst of so many."""


@dataclass
class RuleResult(Result):
    case: str
    finding: str
    rule: str
    baseline: Baseline
    required_h: float
    """Exposed hours without a kick-out that end the quiet drive by this rule. [h]"""
    bad_per_h: float
    good_per_h: float
    confidence: float
    sentence: str
    warnings: list[Remark] = field(default_factory=list)


@dataclass(frozen=True)
class Standing:
    """One rule as it stands."""

    rule: str
    counts: bool
    """False: for information only."""
    decision: str
    """``repaired``, ``still_bad``, ``go_on`` or ``given_up``."""
    required_h: float | None
    left_min: float | None
    """Exposed minutes still to drive if nothing happens; None where no time will do. [min]"""
    sentence: str


@dataclass
class LeftResult(Result):
    case: str
    stamped_utc: str
    driven_h: float
    kick_outs: int
    left_min: float | None
    by_the_rule: Standing
    for_information: Standing
    sentence: str


def baseline_of(evidence: Evidence) -> Baseline:
    """From the recorded drives, else from the customer's account; Refused if neither has an event."""
    arms = {label: (events, hours) for label, events, hours in arm_counts(evidence)}
    events, hours = arms.get(ARMS[0][0], (0, 0.0))
    if events and hours > 0:
        return Baseline("drives", events, hours)
    told = evidence.account
    if told is not None and told.felt and told.exposed_h > 0:
        return Baseline("account", told.felt, told.exposed_h, told.spells)
    raise Refused(
        Remark("no_baseline", "quiet rule", "a kick-out before the repair, in hours that count",
               f"{events} in {hours:.2f} h and no account of the customer's",
               "drive with the real sensor until it has happened; quiet proves nothing of a fault "
               "that was never seen")
    )  # fmt: skip


def rule(
    id: str, rule: str = "exact", confidence: float | None = None, bad: float | None = None,
    good: float | None = None, author: str = "", casebook: str | None = None,
) -> RuleResult:  # fmt: skip
    """Stamp the rule; refused after the repair, and where one has been stamped already."""
    level = load_settings().confidence if confidence is None else confidence
    with open_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        _refuse_late(store, case_id)
        base = baseline_of(case_evidence(store, case_id))
        body = _body(rule, base, level, bad, good)
        finding = store.add_finding(case_id, "criterion", body, author_of(author))
    warnings = []
    if body["required_h"] > 10 * base.hours:
        warnings.append(
            Remark("hardly_provable", "quiet rule", "at most ten times the hours before",
                   f"{body['required_h']:.1f} h against {base.hours:.2f} h",
                   "rely on the defect that was found rather than on quiet")
        )  # fmt: skip
    said = (f"Stamped: {RULES[rule]}, {base.events} in {base.hours:.2f} h before. "
            f"{body['required_h']:.2f} h that count without a kick-out end the quiet drive.")  # fmt: skip
    return RuleResult(
        case_id, finding, body["rule"], base, body["required_h"], body["bad_per_h"],
        body["good_per_h"], level, said, warnings,
    )  # fmt: skip


def _refuse_late(store: Store, case_id: str) -> None:
    if store.findings(case_id, "repair"):
        raise Refused(
            Remark("after_repair", "quiet rule", "a rule chosen before the repair",
                   "a repair in the casebook", "`locum quiet left` shows both rules as information")
        )  # fmt: skip
    if stamps := store.findings(case_id, "criterion"):
        raise Refused(
            Remark("stamped_already", "quiet rule", "one rule a case",
                   f"{stamps[0].body.get('rule', 'a rule')} of {stamps[0].at_utc}",
                   "it stands; a rule that can be changed is none")
        )  # fmt: skip


def _body(
    rule: str, base: Baseline, confidence: float, bad: float | None, good: float | None
) -> dict[str, Any]:
    """What is written down: everything that the decision needs later, and nothing to be chosen."""
    low = exact.garwood(base.events, base.hours, confidence).low
    bad = low if bad is None else bad
    good = GOOD_SHARE * bad if good is None else good
    risk = 1 - confidence
    test = quiet.Sprt(bad, good, risk, risk)
    exact_h = quiet.quiet_hours_worst_of(base.events, base.hours, base.spells, confidence)
    required = exact_h if rule == "exact" else test.repaired_after_h(0)
    return {"rule": RULES[rule], "before": ARMS[0][0] if base.source == "drives" else "account",
            "events": base.events, "hours": base.hours, "spells": base.spells,
            "confidence": confidence, "bad_per_h": bad, "good_per_h": good, "alpha": risk,
            "beta": risk, "exact_h": exact_h, "required_h": required}  # fmt: skip


def left(id: str, casebook: str | None = None) -> LeftResult:
    """How many exposed minutes are still to be driven by the stamped rule."""
    with open_casebook(casebook) as store:
        case_id = store.case_id_from(id)
        evidence = case_evidence(store, case_id)
        stamps, repairs = store.findings(case_id, "criterion"), store.findings(case_id, "repair")
    in_time = bool(stamps) and (not repairs or stamps[0].at_utc <= repairs[0].at_utc)
    body = stamps[0].body if stamps else _body("exact", baseline_of(evidence), 0.95, None, None)
    body = _completed(body)
    arms = {label: (events, hours) for label, events, hours in arm_counts(evidence)}
    kicks, driven = arms.get(ARMS[2][0], (0, 0.0))
    sequential = body["rule"] == RULES["sequential"]
    by_time, by_test = _by_time(body, kicks, driven), _by_test(body, kicks, driven)
    mine, other = (by_test, by_time) if sequential else (by_time, by_test)
    mine = Standing(**{**asdict(mine), "counts": in_time})
    head = f"{driven:.2f} h that count driven since the repair, {kicks} kick-outs. "
    if not repairs:
        head = "Nothing has been repaired yet; this is what will have to be driven. "
    if not in_time:
        head += "No rule was stamped before the repair, so this is information and no proof. "
    return LeftResult(
        case_id, stamps[0].at_utc if stamps else "", driven, kicks, mine.left_min, mine, other,
        f"{head}By the {mine.rule}: {mine.sentence} For information only, by the {other.rule}: {other.sentence}",
    )  # fmt: skip


def _completed(body: dict[str, Any]) -> dict[str, Any]:
    """A stamp of fewer words, as the demo writes it, with what it left to the defaults."""
    base = Baseline("drives", int(body["events"]), float(body["hours"]), int(body.get("spells", 1)))
    if not base.events:
        raise Refused(Remark("no_baseline", "quiet left", "a kick-out before the repair", "none",
                             "quiet proves nothing of a fault that was never seen"))  # fmt: skip
    name = next((k for k, v in RULES.items() if v == body.get("rule")), "exact")
    full = _body(name, base, float(body.get("confidence", 0.95)), body.get("bad_per_h"), body.get("good_per_h"))  # fmt: skip
    return {**full, **{k: v for k, v in body.items() if v is not None}}


def _by_time(body: dict[str, Any], kicks: int, driven_h: float) -> Standing:
    needed = float(body["exact_h"] if body["rule"] == RULES["sequential"] else body["required_h"])
    if kicks:
        return Standing(RULES["exact"], False, "still_bad", needed, None,
                        "it has happened again, so the quiet drive is over.")  # fmt: skip
    to_go = max(0.0, needed - driven_h)
    done = to_go <= 1e-9
    said = "met." if done else f"{math.ceil(to_go * 60 - 1e-6)} more minutes that count."
    return Standing(RULES["exact"], False, "repaired" if done else "go_on", needed, 60 * to_go, said)  # fmt: skip


def _by_test(body: dict[str, Any], kicks: int, driven_h: float) -> Standing:
    test = quiet.Sprt(body["bad_per_h"], body["good_per_h"], body["alpha"], body["beta"])
    needed, decision = test.repaired_after_h(kicks), test.decision(kicks, driven_h)
    name = RULES["sequential"]
    if decision == "go_on" and driven_h > TRUNCATED_AT * test.repaired_after_h(0):
        return Standing(name, False, "given_up", needed, None, "given up: it would not decide.")
    if decision == "still_bad":
        return Standing(name, False, decision, needed, None, "still bad.")
    to_go = max(0.0, needed - driven_h)
    said = "met." if decision == "repaired" else f"{math.ceil(to_go * 60 - 1e-6)} more minutes that count."  # fmt: skip
    return Standing(name, False, decision, needed, 60 * to_go, said)
