"""What widgets and places tell each other: facts, never orders."""

from __future__ import annotations

from dataclasses import dataclass

from textual.message import Message

from locum.jobs.desk_facts import Snapshot


@dataclass
class LineTyped(Message):
    """Somebody typed a line and pressed Enter."""

    text: str


@dataclass
class Looked(Message):
    """The desk has been looked at; the newest snapshot."""

    snapshot: Snapshot


@dataclass
class KickedOut(Message):
    """A kick-out became certain; posted from the desk's own thread."""
