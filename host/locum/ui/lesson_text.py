"""A lesson of the vehicle's lines as rows of text: the same for the screens and line by line."""

from __future__ import annotations

from locum.jobs.desk_facts import Snapshot
from locum.jobs.lesson import ENOUGH, Lesson
from locum.jobs.lesson_learned import Taught
from locum.jobs.lesson_words import standing_words
from locum.ui import words

NAME = 28
"""Cells for the name of a state."""


def asked_text(lesson: Lesson, wanted: str, enter: str = "Enter") -> str:
    """Which state is asked for, and what to press when it comes."""
    if not lesson.to_drive:
        return "All states were typed by hand."
    if lesson.complete:
        return f"Every state was said {ENOUGH} times or more; saying one again makes it surer."
    return f"Drive until it is: {wanted}. {enter} as it comes."


def now_text(lesson: Lesson, snapshot: Snapshot) -> str:
    """What the lines show now, so that a dead wire is seen at once."""
    if snapshot.phase != "recording" or snapshot.glance is None:
        return "No board is recording: nothing can be learned now."
    shown = standing_words(snapshot.glance.levels, list(lesson.specs.values()))
    return f"the lines now: {shown}" if shown else "the lines now: pulsed ones alone"


def state_text(lesson: Lesson, state: str, snapshot: Snapshot) -> str:
    """One state with how often it was said, and when last."""
    if lesson.states.get(state) is not None:
        return f"{state:<{NAME}} typed by hand"
    count = lesson.count(state)
    if not count:
        return f"{state:<{NAME}} not said yet"
    last = next(said for said in reversed(lesson.said) if said.state == state)
    when = words.clock(last.t_ms / 1000)
    where = "" if last.drive_id == snapshot.drive_id else " of an earlier recording"
    times = "once" if count == 1 else f"{count} times"
    return f"{state:<{NAME}} said {times}, last at {when}{where}"


def taught_text(found: Taught, use: str = "y uses it") -> str:
    """What was learned, and what is still unclear."""
    made = ["What was learned:"]
    for state in found.states:
        how = "by hand" if state.by_hand else f"said {state.said} x"
        loss = "; its loss is a kick-out" if state.held else ""
        made.append(f"  {state.name}: {state.pattern or 'not known yet'} ({how}{loss})")
    if found.unclear:
        made.append("Still unclear:")
        made += [f"  {sentence}" for sentence in found.unclear]
    else:
        made.append("Nothing is unclear.")
    made.append(f"{use}, in a new recording." if found.usable else "It cannot be used yet.")
    return "\n".join(made)
