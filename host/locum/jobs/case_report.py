"""Gathers one case for its page: facts from the casebook, findings of review, the verdict."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from typing import Any

import locum
from locum.casebook.records import Case
from locum.casebook.store import Store
from locum.errors import Refused
from locum.jobs.arms import ARMS, arm_counts
from locum.jobs.drive_facts import drive_facts
from locum.jobs.evidence import case_evidence
from locum.jobs.jsontext import plain_json
from locum.report import data as page
from locum.sheets.module import ModuleSheet, read_module
from locum.sheets.sensor import read_sensor
from locum.verdict import exact, quiet
from locum.verdict.evidence import Evidence
from locum.verdict.finding import Step, Suspect, Verdict
from locum.verdict.weigh import weigh

KIND_WORDS = {"real": "real sensor", "stand_in": "stand-in", "follow": "following"}
STATUS = {"shown": "guilty", "cleared": "cleared"}


def finite(value: float | None) -> float | None:
    """None instead of what a page cannot print."""
    return None if value is None or not math.isfinite(value) else float(value)


def _rows(table: dict[str, Any] | None) -> list[page.Row]:
    return [page.Row(key.replace("_", " "), str(value)) for key, value in (table or {}).items()]


def _complaint(case: Case) -> page.ComplaintFacts:
    told = case.fields.get("complaint") or {}
    account = case.fields.get("account")
    words = ""
    if account:
        words = f"{account['felt']} times in {account['exposed_h']:g} h that count"
    rule = case.fields.get("rule") or {}
    return page.ComplaintFacts(
        told.get("words", ""), told.get("conditions", ""), words,
        ", ".join(f"{k.replace('_', ' ')} {v}" for k, v in rule.items()),
    )  # fmt: skip


def _curve(store: Store, case_id: str) -> page.CurveFacts | None:
    sheet = store.sheet(case_id, "sensor")
    if sheet is None:
        return None
    try:
        sensor = read_sensor(sheet.text, sheet.name)
    except Refused:  # readings typed on the command line are kept as words
        return page.CurveFacts(sheet.name, sheet.sha256, "readings", sheet.text.strip())
    facts = page.CurveFacts(
        sheet.name, sheet.sha256, sensor.curve.kind, sensor.source or "", sensor.curve.coefficients
    )
    points = getattr(sensor, "points", None)
    if points:
        facts.points_c = [float(p[0]) for p in points]
        facts.points_ohm = [float(p[1]) for p in points]
        facts.residuals_c = [
            float(sensor.curve.temperature_c(r)) - c
            for c, r in zip(facts.points_c, facts.points_ohm, strict=True)
        ]
    return facts


def _module(store: Store, case: Case) -> page.ModuleFacts | None:
    sheet = store.sheet(case.id, "module")
    if sheet is None:
        return None
    module: ModuleSheet = read_module(sheet.text, sheet.name)
    s = module.source
    readings = [page.Row(r["label"], str(r["value"]), r.get("unit", ""))
                for r in case.fields.get("module_readings", ())]  # fmt: skip
    return page.ModuleFacts(s.voc_v, s.u_voc_v, s.rth_ohm, s.u_rth_ohm, s.two_stage, readings)


def _rates(evidence: Evidence) -> list[page.RateFacts]:
    made = []
    for label, events, hours in arm_counts(evidence):
        limits = exact.garwood(events, hours, evidence.confidence)
        made.append(
            page.RateFacts(label, events, hours, limits.low, limits.high, label.split(",")[0])
        )
    return made


def _counts(drives: list[page.DriveFacts], confidence: float) -> list[page.CountFacts]:
    injected = [g for d in drives for g in d.glitches if g.ours]
    if not injected:
        return []
    answered = sum(bool(g.answered) for g in injected)
    limits = exact.clopper_pearson(answered, len(injected), confidence)
    return [page.CountFacts("glitches given to the module", answered, len(injected), limits.low,
                            limits.high, "injected")]  # fmt: skip


def _quiet(evidence: Evidence, store: Store, case_id: str) -> page.QuietFacts | None:
    arms = {label: (events, hours) for label, events, hours in arm_counts(evidence)}
    before = arms.get(ARMS[0][0])
    after = arms.get(ARMS[2][0])
    stamped = store.findings(case_id, "criterion")
    if before is None or not before[0]:
        return None
    required = quiet.quiet_hours_needed(before[0], before[1], evidence.confidence)
    called = store.followed_up(case_id)
    driven = (after[1] if after else 0.0) + called.hours
    kicks = (after[0] if after else 0) + called.kick_outs
    return page.QuietFacts(
        rule=f"exact time: {before[0]} in {before[1]:.2f} h before, {evidence.confidence:.0%}",
        stamped_utc=stamped[0].at_utc if stamped else "",
        required_h=required, driven_h=driven, kick_outs=kicks, customer_h=called.hours,
        upper_per_h=finite(exact.upper_limit(kicks, driven, evidence.confidence)) if driven else None,
        before_every_h=before[1] / before[0],
        met=bool(driven >= required and kicks == 0) if driven else None,
    )  # fmt: skip


def _proof_step(step: Step) -> page.ProofStep:
    tests = [
        page.TestFacts(
            n.test,
            ", ".join(f"{k} {v:g}" for k, v in n.inputs.items()),
            finite(n.value),
            n.convention,
            n.name,
        )  # fmt: skip
        for n in step.numbers
    ]
    return page.ProofStep(step.name, step.reached, "", step.observed, tests, step.missing)


def _suspect(suspect: Suspect) -> page.SuspectFacts:
    why = "; ".join((*suspect.speaks_for, *suspect.speaks_against))
    return page.SuspectFacts(suspect.name, STATUS.get(suspect.standing, "open"), why)


def _verdict(verdict: Verdict) -> page.VerdictFacts:
    return page.VerdictFacts(
        proof=verdict.proof, conclusion=verdict.conclusion, culprit=verdict.culprit,
        sentence=verdict.sentence, p_value=finite(verdict.p_value), convention=verdict.convention,
        steps=[_proof_step(step) for step in verdict.steps],
        suspects=[_suspect(s) for s in verdict.suspects], missing=list(verdict.missing),
        next_drive=verdict.next_drive.words if verdict.next_drive else "",
    )  # fmt: skip


def case_page(store: Store, case_id: str, with_identity: bool = False) -> page.CaseReport:
    """Everything a page can show of one case, computed anew from the casebook."""
    case = store.case(case_id)
    evidence = case_evidence(store, case_id)
    verdict = weigh(evidence)
    sensor = store.sheet(case_id, "sensor")
    curve = None
    if sensor is not None:
        try:
            curve = read_sensor(sensor.text, sensor.name).curve
        except Refused:
            curve = None
    drives = [d for x in store.drives(case_id) if (d := drive_facts(store, x, curve))]
    found = store.findings(case_id, "found")
    repair = store.findings(case_id, "repair")
    finding = None
    if found or repair:
        body = {**(found[-1].body if found else {}), **(repair[-1].body if repair else {})}
        names = page.FoundFacts.__dataclass_fields__
        finding = page.FoundFacts(**{k: str(v) for k, v in body.items() if k in names})
    return page.CaseReport(
        case_id=case.id, title=case.title,
        made_utc=datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
        program=f"locum {locum.__version__}", workshop=case.fields.get("workshop", ""),
        technician=case.fields.get("technician", ""), opened_utc=case.opened_utc,
        vehicle=_rows(case.fields.get("vehicle") if isinstance(case.fields.get("vehicle"), dict) else None),
        identity=_rows(store.identity(case_id)) if with_identity else [],
        component=case.fields.get("component", ""), complaint=_complaint(case),
        setup=_rows(case.fields.get("tap")), curve=_curve(store, case_id), module=_module(store, case),
        drives=drives, rates=_rates(evidence), counts=_counts(drives, evidence.confidence),
        quiet=_quiet(evidence, store, case_id), confidence=evidence.confidence,
        verdict=_verdict(verdict), found=finding,
        hand_back=[page.HandBackFacts(h.item, h.words, h.done, h.at_utc or "", h.author)
                   for h in store.hand_back(case_id)],
        entries=[page.EntryFacts(f.at_utc, f.author, f.kind, str(f.body.get("words", "")))
                 for f in store.findings(case_id) if f.body.get("words")],
        remarks=list(case.fields.get("remarks", ())),
    )  # fmt: skip


def verdict_json(verdict: Verdict) -> dict[str, Any]:
    return plain_json(verdict.as_dict())
