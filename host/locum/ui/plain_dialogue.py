"""A dialogue of questions line by line: the guided start, the module's readings, the lesson's names."""

from __future__ import annotations

from locum.jobs.questions import BACK, Dialogue

LEAVE = ("stop", "leave")


def question_text(dialogue: Dialogue) -> str:
    """The question to answer now, and what an empty line means."""
    asked = dialogue.question
    of = f" of {dialogue.total}" if dialogue.total is not None else ""
    enter = f"\n(an empty line: {asked.enter})" if asked.enter else ""
    return f"{dialogue.number}{of}: {asked.asked}\n{asked.help}{enter}"


def answered(dialogue: Dialogue, text: str) -> str:
    """Take one line as an answer, or the last answer back; what was understood and the next question.

    Raises LocumError where the answer cannot be; the question stays open.
    """
    if text.lower() == BACK:
        told = "taken back" if dialogue.back() else "nothing is answered yet"
    else:
        told = f"understood: {dialogue.answer(text)}"
    return told if dialogue.done else f"{told}\n{question_text(dialogue)}"
