"""What a report is made of: the plain numbers and words that jobs gather for one case.

``CaseReport`` is the input of :func:`locum.report.render_case` and, by ``as_dict``, the JSON that
stands beside the page, so that page and JSON cannot differ. Everything is optional but the case's
id and title: a page shows what there is and says in plain words what is missing.

Conventions: times of day are ISO 8601 in UTC; times within a drive are seconds since its start,
``_s``; rates are per exposed hour; a limit that does not exist is ``None``. ``words`` fields are
sentences for people, made by the verdict or by ``ui/words.py``; the report invents none.
"""

from __future__ import annotations

import dataclasses
import types
import typing
from dataclasses import dataclass, field
from typing import Any

from locum.casebook.jsontext import plain
from locum.report.circuit_facts import BudgetRow, ComplaintFacts, CurveFacts, ModuleFacts, Row
from locum.report.drive_facts import DriveFacts, GlitchFacts, ReleaseFacts, StateSpan, StretchFacts
from locum.report.verdict_facts import (
    CountFacts,
    ProofStep,
    QuietFacts,
    RateFacts,
    SuspectFacts,
    TestFacts,
    ThresholdFacts,
    VerdictFacts,
)


@dataclass
class FoundFacts:
    """The physical finding and the repair."""

    words: str = ""
    cause: str = ""
    where: str = ""
    parts_old: str = ""
    parts_new: str = ""
    touched: str = ""
    done: str = ""
    """What was done, in one sentence for the customer."""


@dataclass
class HandBackFacts:
    item: str
    words: str
    done: bool | None = None
    when: str = ""
    """When it was ticked."""
    who: str = ""
    note: str = ""
    """For the item ``follow_up_set`` the date agreed."""


@dataclass
class FollowUpFacts:
    when: str
    hours: float
    kick_outs: int
    counts: bool = True
    note: str = ""


@dataclass
class EntryFacts:
    """A later addition to the case; nothing is ever overwritten."""

    when: str
    author: str
    kind: str
    words: str


@dataclass
class CaseReport:
    """Everything a page can show of one case. See the module's own words for conventions."""

    case_id: str
    title: str
    made_utc: str = ""
    program: str = ""
    """Program and version that made the page, such as ``locum 0.1.0``."""
    unit: str = "celsius"
    """Of temperatures on the page, ``celsius`` or ``fahrenheit``; every ``_c`` here is degC."""
    workshop: str = ""
    technician: str = ""
    opened_utc: str = ""
    vehicle: list[Row] = field(default_factory=list)
    identity: list[Row] = field(default_factory=list)
    """Left empty unless the owner's data was asked for."""
    component: str = ""
    """What is suspected, in words: ``coolant sensor circuit``."""
    complaint: ComplaintFacts = field(default_factory=ComplaintFacts)
    setup: list[Row] = field(default_factory=list)
    """Tap point, pins, colours, polarity, ground, board, firmware, calibration, meter."""
    curve: CurveFacts | None = None
    module: ModuleFacts | None = None
    budget_at_c: float | None = None
    budget: list[BudgetRow] = field(default_factory=list)
    expanded_c: float | None = None
    """Expanded uncertainty (k = 2) of the temperature shown to the module."""
    drives: list[DriveFacts] = field(default_factory=list)
    rates: list[RateFacts] = field(default_factory=list)
    counts: list[CountFacts] = field(default_factory=list)
    thresholds: list[ThresholdFacts] = field(default_factory=list)
    quiet: QuietFacts | None = None
    confidence: float = 0.95
    verdict: VerdictFacts = field(default_factory=VerdictFacts)
    found: FoundFacts | None = None
    hand_back: list[HandBackFacts] = field(default_factory=list)
    follow_ups: list[FollowUpFacts] = field(default_factory=list)
    entries: list[EntryFacts] = field(default_factory=list)
    similar: str = ""
    """What similar cases turned out to be; empty below five."""
    attachments: list[Row] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    """Warnings that a reader must know: gaps, uncalibrated board, nominal curve."""

    def as_dict(self) -> dict[str, Any]:
        """Plain JSON types; numbers that are not finite become ``None``."""
        return plain(self)

    @classmethod
    def from_dict(cls, data: dict[str, Any]) -> CaseReport:
        """The same object again from ``as_dict`` or from JSON; unknown keys are left out."""
        return _build(cls, data)


def _build(kind: Any, value: Any) -> Any:
    """``value`` as an object of the annotated type ``kind``."""
    origin = typing.get_origin(kind)
    if origin in (types.UnionType, typing.Union):
        if value is None:
            return None
        return _build(next(part for part in typing.get_args(kind) if part is not type(None)), value)
    if origin is list:
        return [_build(typing.get_args(kind)[0], item) for item in value or ()]
    if dataclasses.is_dataclass(kind) and isinstance(value, dict):
        hints = typing.get_type_hints(kind)
        return typing.cast(type, kind)(
            **{name: _build(hints[name], item) for name, item in value.items() if name in hints}
        )
    return value


__all__ = [
    "BudgetRow",
    "CaseReport",
    "ComplaintFacts",
    "CountFacts",
    "CurveFacts",
    "DriveFacts",
    "EntryFacts",
    "FollowUpFacts",
    "FoundFacts",
    "GlitchFacts",
    "HandBackFacts",
    "ModuleFacts",
    "ProofStep",
    "QuietFacts",
    "RateFacts",
    "ReleaseFacts",
    "Row",
    "StateSpan",
    "StretchFacts",
    "SuspectFacts",
    "TestFacts",
    "ThresholdFacts",
    "VerdictFacts",
]
