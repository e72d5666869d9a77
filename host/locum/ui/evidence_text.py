"""A weighed case told as rows of text: the same for the screens and line by line."""

from __future__ import annotations

from locum.jobs.evidence_view import EvidenceView, ExactRow, MomentRow
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


MOMENTS_HEAD = f"{'time':>8}  {'kick-out':<8}  {'how they lie':<12} the sensor's glitch"


def moment_line(row: MomentRow) -> str:
    """One moment: when, whether there was a kick-out, how it lies to the glitch, the glitch."""
    kick = words.EVENT["kick_out"] if row.kick_out else ""
    if row.after_s is not None:
        lies = f"{row.after_s:.1f} s after"
    elif row.kick_out:
        lies = ""
    else:
        lies = "kept from it" if row.masked else "no kick-out"
    glitch = row.glitch or "none before it"
    return f"{words.clock(row.t_s):>8}  {kick:<8}  {lies:<12} {glitch}"


def moments_sum(view: EvidenceView) -> str:
    """What there is to lie beside each other, counted; how much it proves the steps say."""
    kicks = sum(row.kick_out for row in view.moments)
    masked = sum(row.masked for row in view.moments)
    seen = sum(bool(row.glitch) for row in view.moments) - masked
    said = f"{kicks} kick-outs; glitches: {seen} seen by the module"
    return f"{said}, {masked} not" if masked else said


def by_drive(view: EvidenceView) -> list[tuple[str, list[MomentRow]]]:
    """(words of the recording, its moments), in the order of the recordings."""
    made: list[tuple[str, str, list[MomentRow]]] = []
    for row in view.moments:
        if not made or made[-1][0] != (row.drive_id or row.drive):
            made.append((row.drive_id or row.drive, words.DRIVE.get(row.drive, row.drive), []))
        made[-1][2].append(row)
    return [(said, rows) for _, said, rows in made]


def moments_text(view: EvidenceView) -> str:
    if not view.moments:
        return "Nothing recorded yet."
    lines = [moments_sum(view), MOMENTS_HEAD]
    for said, rows in by_drive(view):
        lines += [f"{said}:", *map(moment_line, rows)]
    return "\n".join(lines)


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
