"""What the Evidence place shows: a case weighed, told in plain rows. No screen in here."""

from __future__ import annotations

import math
from dataclasses import dataclass

from locum.casebook.store import Store
from locum.jobs.cases import open_casebook
from locum.jobs.evidence import case_evidence
from locum.verdict.finding import Verdict
from locum.verdict.weigh import weigh


@dataclass(frozen=True)
class ExactRow:
    """One exact test: enough to compute it again."""

    name: str
    """Code name of the test."""
    inputs: tuple[tuple[str, float], ...]
    value: float
    convention: str


@dataclass(frozen=True)
class StepRow:
    name: str
    """Code name of the step of proof."""
    reached: bool
    observed: str
    missing: str
    p_value: float | None
    tests: tuple[ExactRow, ...]
    """The exact tests behind it."""


@dataclass(frozen=True)
class MomentRow:
    """A kick-out or a long glitch, with what stands beside it in time."""

    drive: str
    t_s: float
    kick_out: bool
    glitch: str
    """``87 ms towards cold`` or empty."""
    masked: bool
    """The stand-in fed the module at that time."""
    after_s: float | None = None
    """How long after the glitch before it a kick-out came. [s]"""
    drive_id: str = ""
    number: int = 0
    """Of the glitch among its recording's, from 1; 0: there is none."""


@dataclass(frozen=True)
class EvidenceView:
    case_id: str
    title: str
    sentence: str
    proof: str
    p_value: float | None
    steps: tuple[StepRow, ...]
    moments: tuple[MomentRow, ...]
    suspects: tuple[tuple[str, str, str], ...]
    """(name, standing, why)."""
    next_words: str
    next_why: str
    next_kind: str
    next_chance: float | None = None
    """Chance that the next drive settles the matter; None where it is not known."""


def finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _sums(inputs: dict[str, float]) -> tuple[tuple[str, float], ...]:
    """Inputs without the rows behind a sum (``chance_1`` ...), which the report and --json have."""
    return tuple((k, x) for k, x in inputs.items() if not k.rpartition("_")[2].isdigit())


def _steps(verdict: Verdict) -> tuple[StepRow, ...]:
    rows = []
    for step in verdict.steps:
        first = step.numbers[0] if step.numbers else None
        tests = tuple(
            ExactRow(n.test, _sums(n.inputs), n.value, n.convention) for n in step.numbers
        )
        rows.append(
            StepRow(
                step.name,
                step.reached,
                step.observed,
                step.missing,
                finite(first.value) if first else None,
                tests,
            )  # fmt: skip
        )
    return tuple(rows)


def _moments(store: Store, case_id: str) -> tuple[MomentRow, ...]:
    """Kick-outs and the glitches before them, then glitches without one, drive by drive in time."""
    rows: list[MomentRow] = []
    for drive in store.drives(case_id):
        reviews = store.reviews(drive.id)
        if not reviews:
            continue
        begun = len(rows)
        result = reviews[-1].result
        own = sorted((g for g in result["glitches"] if not g["ours"]), key=lambda g: g["t_ms"])
        glitches = {g["t_ms"]: (number, g) for number, g in enumerate(own, 1)}
        linked = set()
        for release in result["releases"]:
            if release["cause"] == "none" and not release["repeat"]:
                number, glitch = glitches.get(release["linked_glitch"], (0, None))
                linked.add(release["linked_glitch"])
                at_s = release["t_ms"] / 1000
                after_s = at_s - glitch["t_ms"] / 1000 if glitch else None
                rows.append(
                    MomentRow(
                        drive.kind, at_s, True, _words(glitch), False, after_s, drive.id, number
                    )
                )
        for t_ms, (number, glitch) in glitches.items():
            if t_ms not in linked:
                masked = glitch["channel"] == "ohmmeter"
                rows.append(
                    MomentRow(
                        drive.kind,
                        t_ms / 1000,
                        False,
                        _words(glitch),
                        masked,
                        None,
                        drive.id,
                        number,
                    )
                )
        rows[begun:] = sorted(rows[begun:], key=lambda row: row.t_s)
    return tuple(rows)


def _words(glitch: dict | None) -> str:
    return f"{glitch['length_ms']:.0f} ms towards {glitch['towards']}" if glitch else ""


def look_at_case(case: str, casebook: str | None = None) -> EvidenceView:
    """A case weighed now, from the casebook alone."""
    with open_casebook(casebook) as store:
        case_id = store.case_id_from(case)
        verdict = weigh(case_evidence(store, case_id))
        advice = verdict.next_drive
        suspects = tuple(
            (s.name, s.standing, "; ".join((*s.speaks_for, *s.speaks_against)))
            for s in verdict.suspects
        )
        return EvidenceView(
            case_id, store.case(case_id).title, verdict.sentence, verdict.proof,
            finite(verdict.p_value), _steps(verdict), _moments(store, case_id), suspects,
            advice.words if advice else "", advice.why if advice else "",
            advice.kind if advice else "", finite(advice.chance) if advice else None,
        )  # fmt: skip
