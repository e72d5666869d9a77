"""A dialogue of questions as rows of text: the same for the screens and line by line."""

from __future__ import annotations

from locum.jobs.questions import Dialogue


def answers_text(dialogue: Dialogue) -> str:
    """What was understood so far, one row an answer."""
    return "\n".join(f"{n}  {a.name:<9} {a.understood}" for n, a in enumerate(dialogue.answers, 1))


def asked_text(dialogue: Dialogue) -> str:
    """The question to answer now, with its number."""
    of = f" of {dialogue.total}" if dialogue.total is not None else ""
    return f"{dialogue.number}{of}   {dialogue.question.asked}"


def enter_text(dialogue: Dialogue, needed: str = "type the answer") -> str:
    """What Enter alone means."""
    enter = dialogue.question.enter
    return f"Enter alone: {enter}" if enter else needed
