"""What the casebook hands out: one small frozen object per row, JSON bodies already read.

Times of day are ISO 8601 strings in UTC with milliseconds and ``Z``; ``t_ms`` is board time since
the drive's start. Ids are 26 letters and digits that sort by the time they were made.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

IDENTITY_FIELDS = ("owner", "name", "plate", "vin", "phone", "email", "address")
"""Fields that say who, not what: kept apart, left out by default, erasable."""

HAND_BACK_ITEMS = {
    "device_removed": "stand-in removed, original wiring restored",
    "codes_cleared": "codes read and cleared",
    "relearn_done": "relearn and adaptations done as the service manual asks",
    "customer_told": "customer told what was found and how sure it is",
    "follow_up_set": "follow-up date agreed",
}
"""The list a car is handed back by; ``note`` of ``follow_up_set`` holds the date."""


@dataclass(frozen=True)
class Case:
    """One case: what was written at the start with every later change laid over it."""

    id: str
    title: str
    opened_utc: str
    closed_utc: str | None
    """From the newest ``closed`` or ``reopened`` finding."""
    fields: dict[str, Any]
    """As they stand now. See :data:`locum.casebook.cases.KNOWN_FIELDS`."""
    changes: tuple[Change, ...] = ()
    """Every change with author and date, oldest first; ``fields`` can be rebuilt from them."""
    drives: int = 0


@dataclass(frozen=True)
class Change:
    """Fields of a case as somebody set them at one time."""

    id: str
    at_utc: str
    author: str
    fields: dict[str, Any]
    """Only what was set; ``None`` takes a field back."""


@dataclass(frozen=True)
class Sheet:
    """A sheet's own text as it is kept with a case or a drive."""

    role: str
    """``sensor``, ``module``, ``vehicle``, ``board``, ``profile``, ``plan``, ``ladder``, ..."""
    name: str
    sha256: str
    text: str
    attached_utc: str

    @classmethod
    def from_row(cls, row) -> Sheet:
        """From columns role, name, sha256, attached_utc and the content's ``data``."""
        text = bytes(row["data"]).decode("utf-8")
        return cls(row["role"], row["name"], row["sha256"], text, row["attached_utc"])


@dataclass(frozen=True)
class Stretch:
    """A part of a drive with one thing connected to the module."""

    number: int
    """Counts from 0 within the drive."""
    start_ms: int
    end_ms: int | None
    connected: str
    """``real``, ``stand_in``, ``follow``, ``open``, ``short``."""
    foot: str
    """``still`` or ``normal``."""
    plan: dict[str, Any] | None
    felt: bool | None
    """The newest answer to "anything felt?"; ``None`` if not asked."""


@dataclass(frozen=True)
class Mark:
    """Something a person noted at a moment of a drive."""

    t_ms: int
    kind: str
    """``key``, ``button``, ``foot``, ``brake``, ``road``, ``felt``, ``note``, ..."""
    ago_ms: int
    note: str
    at_utc: str


@dataclass(frozen=True)
class Gap:
    """A part of a drive without record, and why."""

    t_ms: int
    until_ms: int
    lost: int
    """Records known to be lost, by the board's sequence numbers; 0 if only time is known."""
    why: str


@dataclass(frozen=True)
class Drive:
    """One recording, filed or not."""

    id: str
    kind: str
    """What the recording was for: ``listen``, ``provoke``, ``follow``, ``quiet``, the name of the command
    that made it, ...; any word is stored as it comes."""
    case_id: str | None
    started_utc: str
    ended_utc: str | None
    """``None``: still running, or the program was killed; the data is whole up to its last second."""
    how: str | None
    """How it ended: ``done``, ``stopped``, ``tripped``, ``link_lost``, ..."""
    board: dict[str, Any]
    settings: dict[str, Any]
    sheets: tuple[Sheet, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    marks: tuple[Mark, ...] = ()
    gaps: tuple[Gap, ...] = ()
    blocks: int = 0
    bytes: int = 0


@dataclass(frozen=True)
class Review:
    """What one version of the review found in a drive."""

    id: str
    drive_id: str
    version: str
    """Version of the review that made it; older ones stay."""
    made_utc: str
    result: dict[str, Any]


@dataclass(frozen=True)
class Finding:
    """Something found, done or decided in a case; never changed, only followed by later ones."""

    id: str
    case_id: str
    kind: str
    """``note``, ``criterion``, ``threshold``, ``verdict``, ``repair``, ``follow_up``, ``closed``, ...; any word
    is stored as it comes."""
    at_utc: str
    author: str
    body: dict[str, Any]


@dataclass(frozen=True)
class Attachment:
    """A file kept with a case."""

    id: str
    case_id: str
    drive_id: str | None
    name: str
    media_type: str
    sha256: str
    size: int
    at_utc: str
    author: str
    note: str


@dataclass(frozen=True)
class StoredCalibration:
    """A board's calibration as it was stored."""

    id: str
    board_serial: str
    made_utc: str
    meter: str
    body: dict[str, Any]
    """What ``Calibration.to_dict`` gave."""


@dataclass(frozen=True)
class Hit:
    """One case found."""

    id: str
    title: str
    snippet: str
    """Words around the match, the match between ``[`` and ``]``."""


@dataclass(frozen=True)
class HandBackItem:
    """One line of the hand-back list as it stands."""

    item: str
    words: str
    done: bool | None
    at_utc: str | None = None
    author: str = ""
    note: str = ""


@dataclass(frozen=True)
class FollowedUp:
    """What follow-up calls add: hours that count, and what was felt in them."""

    hours: float
    kick_outs: int
    calls: int
    left_out_h: float
    """Hours told but not counted, because the rule was not met or nobody watched."""


@dataclass(frozen=True)
class CheckLine:
    """One line of ``case check``."""

    name: str
    passed: bool
    detail: str
    lost: tuple[str, ...] = field(default=())
    """What cannot be read any more, by name."""
