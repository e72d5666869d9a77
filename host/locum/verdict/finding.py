"""What weighing hands on: steps, suspects, numbers that can be computed again, advice."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field

from locum.verdict.words import CIRCUIT, CLEARS_CIRCUIT


@dataclass(frozen=True)
class Number:
    """A number of the report with all that is needed to compute it again."""

    name: str
    value: float
    test: str
    """Name of the function in ``verdict.exact`` (or a formula) it comes from."""
    inputs: dict[str, float]
    convention: str = ""
    """One-sided or two-sided, doubled or not, alpha over how many looks."""
    unit: str = ""


@dataclass(frozen=True)
class Step:
    """One step of proof."""

    name: str
    reached: bool
    observed: str
    missing: str = ""
    numbers: tuple[Number, ...] = ()


@dataclass(frozen=True)
class Suspect:
    """One possible seat of the fault and what speaks for and against it."""

    name: str
    standing: str
    """``shown``, ``possible``, ``cleared`` or ``not_knowable``."""
    speaks_for: tuple[str, ...] = ()
    speaks_against: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plan:
    """A drive ready to start."""

    hours: float
    tap: str = "none"
    stretches: tuple[tuple[float, str, str], ...] = ()
    """(length_s, connected, foot), end to end."""
    injections: tuple[tuple[float, float, float], ...] = ()
    """(at_s, length_s, ohm): 1e9 = open."""
    bench: str = ""
    """A bench check instead of a drive."""
    seed: int = 0
    """Of the draw of the stretches; drawn before the start."""


@dataclass(frozen=True)
class Advice:
    """The next drive that would tell most."""

    kind: str
    """``listen outputs``, ``listen``, ``swap``, ``provoke``, ``bench``, ``quiet``, ``stop`` ..."""
    words: str
    why: str
    plan: Plan | None = None
    chance: float = float("nan")
    """Chance that it settles the matter, under the leading suspicion."""
    hours_to_settle: float = float("nan")
    """Hours it would take to settle it with 90 % chance at the present rate. [h]"""


@dataclass(frozen=True)
class Verdict:
    """What may be said now."""

    proof: str
    """Highest step reached; ``none`` before the first."""
    conclusion: str
    """A key of ``words.CONCLUSIONS``."""
    sentence: str
    p_value: float
    """Of the test that carries the conclusion, in the convention stated with it."""
    convention: str
    steps: tuple[Step, ...] = ()
    suspects: tuple[Suspect, ...] = ()
    numbers: tuple[Number, ...] = ()
    missing: tuple[str, ...] = ()
    next_drive: Advice | None = None
    missing_h: float = float("nan")
    """Exposed hours still needed for a decision at the present rate. [h]"""
    baseline: str = ""
    """Where the rate before comes from: recorded drives or the customer's account."""

    @property
    def culprit(self) -> str:
        """``sensor_circuit`` if the circuit is blamed, else ``none``."""
        return "sensor_circuit" if self.conclusion in CIRCUIT else "none"

    @property
    def circuit_cleared(self) -> bool:
        return self.conclusion in CLEARS_CIRCUIT

    def as_dict(self) -> dict:
        return {**asdict(self), "culprit": self.culprit}


@dataclass
class Notes:
    """Numbers and sentences gathered while weighing."""

    numbers: list[Number] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
