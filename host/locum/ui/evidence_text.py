"""A weighed case told as rows of text: the same for the screens and line by line."""

from __future__ import annotations

from locum.jobs.evidence_view import EvidenceView, ExactRow
from locum.jobs.next_drive import starts
from locum.ui import words


def steps_text(view: EvidenceView) -> str:
    lines = []
    for step in view.steps:
        mark = "reached" if step.reached else "not yet"
        odds = f"   ({words.odds(step.p_value)})" if step.p_value is not None else ""
        lines.append(f"{words.PROOF[step.name]:<11} {mark}  {step.observed}{odds}")
        if step.missing:
            lines.append(f"{'':<11} {'':<7}  missing: {step.missing}")
    return "\n".join(lines)


def exact_text(view: EvidenceView) -> str:
    lines = []
    for step in view.steps:
        if step.tests:
            lines += [f"{words.PROOF[step.name]}:", *(f"  {exact_line(t)}" for t in step.tests)]
    return "\n".join(lines) or "No test has been made yet."


def exact_line(row: ExactRow) -> str:
    """A test with its inputs and convention; names as in ``locum verdict`` and the report."""
    inputs = ", ".join(f"{words.said(name)} {value:g}" for name, value in row.inputs)
    name = row.name.rpartition(".")[2]
    result = f"{words.TEST.get(name, words.said(name))}: {row.value:.4g}"
    return "; ".join(part for part in (result, inputs, row.convention) if part)


def suspects_text(view: EvidenceView) -> str:
    lines = []
    for name, standing, why in view.suspects:
        lines.append(f"{words.STANDING[standing]:<14} {name}")
        lines += [f"{'':14}   {reason}" for reason in why.split("; ") if reason]
    return "\n".join(lines)


def moments_text(view: EvidenceView) -> str:
    lines = ["drive       time       kick-out    glitch"]
    for row in view.moments:
        kick = "KICK-OUT" if row.kick_out else "none"
        masked = ", kept from the module" if row.masked else ""
        glitch = f"{row.glitch}{masked}" if row.glitch else "none before it"
        drive = words.DRIVE.get(row.drive, row.drive)
        lines.append(f"{drive:<10} {words.clock(row.t_s):>8}   {kick:<10}  {glitch}")
    return "\n".join(lines) if len(lines) > 1 else "Nothing recorded yet."


def next_text(view: EvidenceView) -> str:
    """What to do next, and which key starts it where it is a drive."""
    if not view.next_words:
        return ""
    head = "n starts the next drive" if starts(view) else "Next"
    chance = (
        ""
        if view.next_chance is None or view.next_chance < 0.05
        else f" Chance that this alone settles it: {view.next_chance:.0%}."
    )
    why = f" Why: {view.next_why}." if view.next_why else ""
    return f"{head}: {view.next_words}{why}{chance}"


RUNNING = "This recording counts once it is closed: v in Drive."


TEXTS = {
    "steps": steps_text, "tests": exact_text, "suspects": suspects_text, "moments": moments_text,
}  # fmt: skip
