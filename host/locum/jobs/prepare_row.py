"""One row of what must be true before anything is connected."""

from __future__ import annotations

from dataclasses import dataclass

from locum.errors import Remark


@dataclass(frozen=True)
class Row:
    name: str
    word: str
    """ready, missing or refused."""
    detail: str
    fix: str = ""
    """What to do about it, where it is not ready."""
    doubt: str = ""
    """What must be known though it is ready, one sentence a line."""


def sentence(remark: Remark) -> str:
    """A remark with a full stop at its end."""
    return remark.text if remark.text.endswith(".") else remark.text + "."
