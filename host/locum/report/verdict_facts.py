"""Facts that weigh: rates, counts, thresholds, quiet time, steps of proof, what is suspected."""

from __future__ import annotations

from dataclasses import dataclass, field


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
    hysteresis_c: float | None = None
    hysteresis_u_c: float | None = None
    """Half of its 95 % interval. [K]"""
    instrument_u_c: float | None = None
    """Expanded (k = 2), within the limits; None: a board that was never calibrated. [K]"""


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
    """Of the test that carries the conclusion, which need not be the highest step's."""
    convention: str = ""
    steps: list[ProofStep] = field(default_factory=list)
    suspects: list[SuspectFacts] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    next_drive: str = ""
    looks: int = 0
    """How many times the evidence was weighed; alpha is declared over all of them."""
    carried_by: str = ""
    """Name of that test, as in the steps."""
    baseline: str = ""
    """Where the rate before the repair comes from."""
    long_enough: str = ""
    """Which glitches are long enough to be answered, and how long after; how that is known."""
    rests_on: list[TestFacts] = field(default_factory=list)
    """Numbers behind the conclusion that belong to no step."""
