"""Gathers one case for its page: facts from the casebook, findings of review, the verdict."""

from __future__ import annotations

from dataclasses import fields
from datetime import UTC, datetime

import locum
from locum.casebook.records import Case, Drive
from locum.casebook.store import Store
from locum.jobs import case_circuit as circuit
from locum.jobs import case_numbers as numbers
from locum.jobs.case_numbers import quiet_facts
from locum.jobs.drive_facts import drive_facts
from locum.jobs.evidence import case_evidence
from locum.report import data as page
from locum.settings import load_settings
from locum.verdict.weigh import weigh

SILENT_ENTRIES = ("hand_back", "follow_up", "signature", "verdict", "filed")
"""Findings that have a place of their own on the page."""


def _complaint(case: Case, rule: str) -> page.ComplaintFacts:
    told = case.fields.get("complaint") or {}
    account = case.fields.get("account")
    words = ""
    if account:
        words = f"{account['felt']} times in {account['exposed_h']:g} h that count"
    return page.ComplaintFacts(told.get("words", ""), told.get("conditions", ""), words, rule)


def _found(store: Store, case_id: str) -> page.FoundFacts | None:
    """What was seen, and what was done: two findings that often come on one day."""
    found, repair = store.findings(case_id, "found"), store.findings(case_id, "repair")
    if not found and not repair:
        return None
    seen = found[-1].body if found else {}
    done = repair[-1].body if repair else {}
    names = {item.name for item in fields(page.FoundFacts)} - {"words", "done"}
    rest = {k: str(v) for k, v in {**seen, **done}.items() if k in names}
    told = " ".join(_sentence(str(done[k])) for k in ("words", "done") if done.get(k))
    return page.FoundFacts(words=_sentence(str(seen.get("words", ""))), done=told, **rest)


def _sentence(words: str) -> str:
    """``words`` with a full stop, unless they end in one."""
    words = words.strip()
    return words if not words or words[-1] in ".!?" else words + "."


def _thresholds(store: Store, case_id: str) -> list[page.ThresholdFacts]:
    """Change points that were found; a later finding of the same thing replaces the earlier."""
    names = {item.name for item in fields(page.ThresholdFacts)}
    made = {}
    for finding in store.findings(case_id, "threshold"):
        body = {k: v for k, v in finding.body.items() if k in names}
        body.setdefault("what", "the watched state")
        made[body["what"]] = page.ThresholdFacts(**body)
    return list(made.values())


def _follow_ups(store: Store, case_id: str) -> list[page.FollowUpFacts]:
    return [
        page.FollowUpFacts(
            f.at_utc, float(f.body.get("hours", 0.0)), int(f.body.get("kick_outs", 0)),
            bool(f.body.get("counts", True)), str(f.body.get("note", "")),
        )
        for f in store.findings(case_id, "follow_up")
    ]  # fmt: skip


def _entries(store: Store, case_id: str) -> list[page.EntryFacts]:
    """What was written down and when; a case closed and opened again is told as well."""
    made = []
    for f in store.findings(case_id):
        if f.kind in SILENT_ENTRIES:
            continue
        words = f.body.get("words") or f.body.get("why") or ""
        if f.kind == "criterion":
            words = f"{f.body.get('rule', 'rule')}: {f.body.get('required_h', 0.0):.2f} h of quiet asked for"
        elif f.kind == "foreign_log":
            words = f"{f.body.get('name', '')}: {f.body.get('offset_s', 0.0):+.1f} s, {f.body.get('how', '')}"
        elif f.kind == "erased":
            words = "the owner's data was taken out"
        if words or f.kind in ("closed", "reopened"):
            made.append(page.EntryFacts(f.at_utc, f.author, f.kind.replace("_", " "), str(words)))
    return made


def _attachments(store: Store, case_id: str) -> list[page.Row]:
    return [
        page.Row(a.media_type, a.name, "", f"{a.note + ', ' if a.note else ''}{a.size / 1000:.1f} kB, "
                 f"SHA-256 {a.sha256[:12]}")
        for a in store.attachments(case_id)
    ]  # fmt: skip


def _remarks(
    case: Case, stored: list[Drive], drives: list[page.DriveFacts], rule_remark: str
) -> list[str]:
    """What a reader must know before the numbers."""
    made = [str(x) for x in case.fields.get("remarks", ())]
    made += [rule_remark] if rule_remark else []
    if any(x.board.get("model") == "virtual" for x in stored):
        made.append("Recorded on the virtual board: none of it was measured on a vehicle.")
    unwatched = sum(d.unwatched_h for d in drives)
    if unwatched * 60 >= 0.5:
        made.append(f"{unwatched * 60:.0f} min met the rule but were not watched; they are left out of every count.")  # fmt: skip
    lost_ms = sum(d.lost_ms for d in drives)
    if lost_ms:
        made.append(f"{lost_ms / 1000:.1f} s of record were lost in gaps.")
    return made


def case_page(store: Store, case_id: str, with_identity: bool = False) -> page.CaseReport:
    """Everything a page can show of one case, computed anew from the casebook."""
    case = store.case(case_id)
    evidence = case_evidence(store, case_id)
    verdict = weigh(evidence)
    sensor = circuit.sensor_of(store, case_id)
    curve = sensor.curve if sensor else None
    drives = [d for x in store.drives(case_id) if (d := drive_facts(store, x, curve))]
    rule, rule_remark = circuit.rule_of(store, case)
    at_c = round(circuit.working_c(drives))
    budget = circuit.budget_at(store, case_id, float(at_c))
    vehicle = case.fields.get("vehicle")
    return page.CaseReport(
        case_id=case.id, title=case.title,
        made_utc=datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
        program=f"locum {locum.__version__}", workshop=case.fields.get("workshop", ""), unit=load_settings().unit,
        technician=case.fields.get("technician", ""), opened_utc=case.opened_utc,
        vehicle=circuit.rows_of(vehicle),
        identity=circuit.rows_of(store.identity(case_id)) if with_identity else [],
        component=case.fields.get("component", ""), complaint=_complaint(case, rule),
        setup=circuit.setup_facts(store, case), curve=circuit.curve_facts(store, case),
        module=circuit.module_facts(store, case),
        budget_at_c=float(at_c) if budget else None,
        budget=circuit.budget_rows(budget) if budget else [],
        expanded_c=budget.expanded_c if budget else None,
        drives=drives, rates=numbers.rates(evidence, verdict),
        counts=numbers.counts(verdict, evidence.confidence),
        thresholds=_thresholds(store, case_id), quiet=quiet_facts(evidence, store, case_id),
        confidence=evidence.confidence,
        verdict=numbers.verdict_facts(verdict, len(store.findings(case_id, "verdict")),
                                      numbers.long_enough_words(evidence)),
        found=_found(store, case_id),
        hand_back=[page.HandBackFacts(h.item, h.words, h.done, (h.at_utc or "")[:10], h.author, h.note)
                   for h in store.hand_back(case_id)],
        follow_ups=_follow_ups(store, case_id), entries=_entries(store, case_id),
        similar=store.similar(store.criteria_of(case_id), leave_out=case_id).sentence,
        attachments=_attachments(store, case_id), remarks=_remarks(case, store.drives(case_id), drives, rule_remark),
    )  # fmt: skip
