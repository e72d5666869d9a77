"""The family of errors, and the remark: what was wanted, what was found, what to do.

Only the five classes below reach the top of the program; each carries the exit code of the
command line. Everything a person should read is a :class:`Remark`, so that several faults of one
file are told together and the JSON output and the screen say the same words.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass


@dataclass(frozen=True)
class Remark:
    """One refusal or warning, in plain words."""

    code: str
    """Stable snake_case name for programs, such as ``branch_current``."""
    where: str = ""
    """File and line, step, option or part that it is about."""
    wanted: str = ""
    """What was asked for or expected."""
    found: str = ""
    """What is there instead."""
    remedy: str = ""
    """What to do about it."""

    @property
    def text(self) -> str:
        """The sentence a person reads."""
        parts = []
        if self.wanted:
            parts.append(f"wanted {self.wanted}")
        if self.found:
            parts.append(f"found {self.found}")
        body = ", ".join(parts) or self.code.replace("_", " ")
        head = f"{self.where}: {body}" if self.where else body[:1].upper() + body[1:]
        tail = f" {self.remedy[:1].upper()}{self.remedy[1:].rstrip('.')}" if self.remedy else ""
        tail += "." if tail and not tail.endswith("?") else ""
        return head.rstrip(".") + "." + tail

    def as_json(self) -> dict[str, str]:
        """The fields and the sentence."""
        return {**asdict(self), "text": self.text}


class LocumError(Exception):
    """Parent of all errors that reach a user."""

    exit_code = 1

    def __init__(
        self, remarks: Remark | Iterable[Remark] | str, notes: Iterable[Remark] = ()
    ) -> None:
        if isinstance(remarks, str):
            remarks = Remark(code=type(self).__name__.lower(), found=remarks)
        if isinstance(remarks, Remark):
            remarks = (remarks,)
        self.remarks: tuple[Remark, ...] = tuple(remarks)
        self.notes: tuple[Remark, ...] = tuple(notes)
        """Warnings that had been earned until then: what was refused may be understood by them."""
        super().__init__("\n".join(remark.text for remark in self.remarks))


class Refused(LocumError, ValueError):
    """We understood, and will not: a limit, a fault in a file, an unreachable value."""

    exit_code = 1


class Misuse(LocumError, ValueError):
    """The command line or a call was malformed."""

    exit_code = 2


class LinkTrouble(LocumError, ConnectionError):
    """No board, a busy port, a lost link, a reply that is not of our protocol."""

    exit_code = 3


class FileTrouble(LocumError, OSError):
    """A file that cannot be read or written."""

    exit_code = 3


class BoardFault(LocumError, RuntimeError):
    """The board went to rest by itself: a safety trip, or it reports that it is broken."""

    exit_code = 4
