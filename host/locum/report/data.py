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


@dataclass
class Row:
    """One line of a table of facts, such as ``Sensor wire | pin 14, green | ``."""

    label: str
    value: str
    unit: str = ""
    note: str = ""


@dataclass
class ComplaintFacts:
    words: str = ""
    """In the customer's own words."""
    conditions: str = ""
    """When it shows: minutes after start, weather, road, load."""
    account: str = ""
    """The rate told, with its exposure and rule, as a sentence."""
    rule: str = ""
    """The case's rule for time that counts, in words."""


@dataclass
class CurveFacts:
    """The sensor's curve with its points, so that anyone can fit it again."""

    name: str = ""
    sha256: str = ""
    kind: str = ""
    source: str = ""
    coefficients: dict[str, float] = field(default_factory=dict)
    points_c: list[float] = field(default_factory=list)
    points_ohm: list[float] = field(default_factory=list)
    residuals_c: list[float] = field(default_factory=list)
    readings: list[Row] = field(default_factory=list)
    """Meter readings of this car's sensor, as taken."""
    judgement: str = ""
    """In, out or inconclusive, with its reason."""


@dataclass
class ModuleFacts:
    """The module's input as measured: open voltage and source resistance."""

    voc_v: float | None = None
    u_voc_v: float | None = None
    rth_ohm: float | None = None
    u_rth_ohm: float | None = None
    two_stage: bool = False
    readings: list[Row] = field(default_factory=list)


@dataclass
class BudgetRow:
    """One line of an uncertainty budget at a stated temperature."""

    name: str
    std_ohm: float | None = None
    std_c: float | None = None
    note: str = ""


@dataclass
class StretchFacts:
    """One span of a drive with one thing connected."""

    start_s: float
    end_s: float
    connected: str
    """``real``, ``stand_in``, ``follow``, ``open``, ``short`` or ``blind`` (not told yet)."""
    foot: str = ""
    """``still`` or ``normal``."""
    felt: bool | None = None
    """The helper's answer to "anything felt?"."""
    counts_s: float = 0.0
    """Time in it that counts."""


@dataclass
class ReleaseFacts:
    """The module let go of a state it held."""

    t_s: float
    what: str
    """In the vehicle sheet's words, such as ``converter clutch let go``."""
    cause: str
    """``none`` (a kick-out), ``driver``, ``road``, ``ours`` or ``unknown``."""
    cause_words: str = ""
    regained_s: float | None = None
    glitch_s: float | None = None
    """Time of the glitch it is linked to, if any."""


@dataclass
class GlitchFacts:
    t_s: float
    length_ms: float
    towards: str
    """``cold`` (open side) or ``hot`` (short side)."""
    seen_on: str = "node"
    """``node`` or ``ohmmeter`` (under the mask)."""
    ours: bool = False
    """True if injected by the stand-in."""
    answered: bool | None = None
    """Whether a release followed within the module's delay; ``None`` if it could not."""
    place: str = ""


@dataclass
class StateSpan:
    """The module held a named state over this span; ``name`` in the vehicle sheet's words."""

    start_s: float
    end_s: float
    name: str
    line: str = ""
    """Which output this is a state of, so that several can stand side by side."""


@dataclass
class DriveFacts:
    """One recording. Empty lists mean "none seen"; ``None`` means "not recorded"."""

    id: str
    kind: str
    """``listen``, ``provoke``, ``follow``, ``reverse``, ``quiet``, ``bench``, ..."""
    started_utc: str = ""
    seconds: float = 0.0
    exposure_h: float = 0.0
    unwatched_h: float = 0.0
    kick_outs: int = 0
    releases: list[ReleaseFacts] = field(default_factory=list)
    glitches: list[GlitchFacts] = field(default_factory=list)
    stretches: list[StretchFacts] = field(default_factory=list)
    states: list[StateSpan] = field(default_factory=list)
    marks_s: list[float] = field(default_factory=list)
    temperature_s: list[float] = field(default_factory=list)
    temperature_c: list[float | None] = field(default_factory=list)
    """True sensor temperature, thinned; a few hundred points are plenty."""
    shown_c: list[float | None] = field(default_factory=list)
    """What the module was shown at the same times; ``None`` where it saw the real sensor."""
    lost_ms: int = 0
    """Record lost in gaps."""
    warm_after_s: float | None = None
    """From when on time could count (the rule's minutes after start)."""
    note: str = ""
    review_version: str = ""
    data_sha256: str = ""


@dataclass
class RateFacts:
    """Events in exposed hours with exact limits."""

    label: str
    events: int
    hours: float
    low_per_h: float | None = None
    high_per_h: float | None = None
    connected: str = ""
    """Begins with ``stand`` or ``follow`` where the module was kept from the real sensor."""


@dataclass
class CountFacts:
    """k of n trials with exact limits, such as glitches injected and answered."""

    label: str
    answered: int
    offered: int
    low: float | None = None
    high: float | None = None
    group: str = ""
    """``unmasked``, ``masked``, ``injected``, ``sham``."""


@dataclass
class TestFacts:
    """One exact test: what went in, what came out, by which convention."""

    name: str
    inputs: str
    p_value: float | None = None
    convention: str = ""
    says: str = ""


@dataclass
class ThresholdFacts:
    """The module's change point, with its hysteresis."""

    what: str
    rising_c: float | None = None
    rising_low_c: float | None = None
    rising_high_c: float | None = None
    falling_c: float | None = None
    falling_low_c: float | None = None
    falling_high_c: float | None = None
    passes: int = 0


@dataclass
class QuietFacts:
    """The proof of a cure: what was asked for beforehand and what has been driven."""

    rule: str = ""
    """``exact time`` or ``sequential test``, with its numbers."""
    stamped_utc: str = ""
    """When the rule was chosen; before the repair, or it proves nothing."""
    required_h: float | None = None
    driven_h: float = 0.0
    kick_outs: int = 0
    customer_h: float = 0.0
    """Part of ``driven_h`` that came from follow-up calls."""
    upper_per_h: float | None = None
    """Demonstrated limit: the rate is below this at ``confidence``."""
    before_every_h: float | None = None
    """Before the repair it came about once in so many hours that count."""
    conditions: str = ""
    met: bool | None = None


@dataclass
class ProofStep:
    """One of possible, coincident, sufficient, necessary, reversible, found, cured."""

    name: str
    reached: bool | None
    """``None``: not tried."""
    words: str = ""
    observed: str = ""
    tests: list[TestFacts] = field(default_factory=list)
    missing: str = ""


@dataclass
class SuspectFacts:
    name: str
    status: str
    """``guilty``, ``cleared``, ``open``."""
    why: str = ""


@dataclass
class VerdictFacts:
    proof: str = ""
    """Code name of the highest step reached."""
    conclusion: str = ""
    """Code name of the conclusion."""
    culprit: str = ""
    """``sensor_circuit``, ``none``, ..."""
    sentence: str = ""
    """The conclusion in one plain sentence, worded from the highest step reached."""
    p_value: float | None = None
    convention: str = ""
    steps: list[ProofStep] = field(default_factory=list)
    suspects: list[SuspectFacts] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    next_drive: str = ""
    looks: int = 0
    """How many times the evidence was weighed; alpha is declared over all of them."""


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
