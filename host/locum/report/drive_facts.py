"""Facts of one drive: what was connected, what the module did, what the line did."""

from __future__ import annotations

from dataclasses import dataclass, field


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
    counted: str = ""
    """Of a kick-out: ``counts``, or why no rate and no test counts it."""


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
    real_h: float = 0.0
    """Part of ``exposure_h`` with the real sensor feeding the module."""
    stand_in_h: float = 0.0
    """Part of it with the stand-in feeding the module."""
