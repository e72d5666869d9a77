"""A dialogue without a screen: one question at a time, answered with one line, echoed as understood.

The screens and the line-by-line mode ask with the same words. An answer that cannot be is refused in
plain words and leaves everything as it was; the last answer can be taken back.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass

BACK = "back"
"""Typed instead of an answer it takes the last one back."""


@dataclass(frozen=True)
class Question:
    name: str
    asked: str
    help: str
    enter: str
    """What Enter alone means; empty where it means nothing."""


@dataclass(frozen=True)
class Answered:
    name: str
    understood: str


class Dialogue(ABC):
    """The answers so far and the next question.

    Taking an answer back answers the earlier lines anew from the beginning, so that whatever follows
    from an answer is taken back with it.
    """

    def __init__(self) -> None:
        self.lines: list[str] = []
        """The answers as typed."""
        self.answers: list[Answered] = []
        self.restart()

    @property
    @abstractmethod
    def done(self) -> bool: ...

    @property
    @abstractmethod
    def question(self) -> Question:
        """The one to answer now."""

    @property
    def number(self) -> int:
        """Of the question to answer now, from 1."""
        return len(self.answers) + 1

    @property
    def total(self) -> int | None:
        """How many there will be; None where that is not known."""
        return None

    @abstractmethod
    def restart(self) -> None:
        """Nothing answered yet."""

    @abstractmethod
    def take(self, name: str, line: str) -> str:
        """Take one answer to the question of that name; what was understood.

        Raises LocumError, with everything left as it was, where it cannot be.
        """

    def answer(self, line: str) -> str:
        """Take one answer; what was understood. LocumError leaves everything as it was."""
        name, text = self.question.name, line.strip()
        understood = self.take(name, text)
        self.lines.append(text)
        self.answers.append(Answered(name, understood))
        return understood

    def back(self) -> bool:
        """Take the last answer back; whether there was one."""
        if not self.lines:
            return False
        before = self.lines[:-1]
        self.lines, self.answers = [], []
        self.restart()
        for line in before:
            self.answer(line)
        return True
