"""What the desk works with and what it shows: plain facts, no thread and no board in here."""

from __future__ import annotations

from dataclasses import dataclass, field

from locum.errors import Remark
from locum.jobs.calibration_told import CalibrationLook
from locum.jobs.circuit import Circuit
from locum.jobs.glance import Glance
from locum.jobs.lines import Event, Line
from locum.jobs.offers import Offer
from locum.jobs.self_test import SelfTest
from locum.planning.timeline import RATE_LIMIT_C_PER_S

NEARLY_S = 5.0
"""A hold that needs no longer is as good as there. [s]"""


@dataclass(frozen=True)
class Setup:
    """What the desk works with: names as a person gave them, None for not told."""

    sensor: str | None = None
    module: str | None = None
    vehicle: str | None = None
    board_sheet: str | None = None
    board: str | None = None
    case: str | None = None
    casebook: str | None = None
    seed: int = 1
    speed: float = 1.0
    """Virtual board only; times real time."""
    kind: str = "listen"
    """What the recording is driven for: listen provoke follow reverse quiet swap."""
    reach: str = ""
    """Where one can reach: sensor, module, splice, nowhere; empty: not told."""
    circuit: str = ""
    """Which circuit, in the person's words."""
    profile: str | None = None
    """The chosen profile, to be played once everything else is ready; None for none."""


@dataclass(frozen=True)
class Outcome:
    """What became of the newest request."""

    asked: str
    how: str
    """begun, done, over (nothing of it goes on), refused, kept (refused; what stood goes on), lost (the link is gone), ended (by a key), real (over, the real sensor is back)."""
    t_s: float
    """Since the recording began. [s]"""
    why: str = ""


@dataclass(frozen=True)
class Snapshot:
    """Everything a screen may show, as it stood at the last tick."""

    setup: Setup
    phase: str = "closed"
    """closed, opening, recording, lost (the link is gone), closing (the record is being finished),
    failed (no board opened), ended."""
    doing: str = ""
    """The act in progress: listen, hold, sweep, replay, follow, contact, glitch, swap, calibrate."""
    doing_words: str = ""
    """Its value as typed, such as ``82C``."""
    glance: Glance | None = None
    lines: tuple[Line, ...] = ()
    drive_id: str = ""
    case_id: str | None = None
    case_title: str = ""
    board: str = ""
    virtual: bool = False
    kept_alone_s: tuple[int, int] | None = None
    """How long the board keeps the record without this computer: nothing moving, and at the busiest. [s]"""
    circuit_remarks: tuple[Remark, ...] = ()
    circuit: Circuit | None = field(default=None, compare=False, repr=False)
    """What sensor, module, board and vehicle were understood as; None before a board was opened."""
    self_test: SelfTest | None = None
    """What the board found when it looked at itself; None where it was not at rest then."""
    sheets: dict[str, str] = field(default_factory=dict)
    """Role -> name of the sheet in use: sensor, module, vehicle, board."""
    remarks: tuple[Remark, ...] = ()
    """The newest refusals or troubles, oldest first."""
    ticks: int = 0
    awaits_answer: bool = False
    """A kick-out has just been rung: one key says foot, brake or road."""
    last_kick_out: Event | None = None
    hidden: bool = False
    """An unseen swap test runs: nothing may tell which is connected."""
    test_over_s: float | None = None
    """When that test will be over, since the recording began. [s]"""
    foot: str = ""
    """How the foot is to be held now (still, normal), where a test asks for it."""
    asks_felt: str = ""
    """The stretch that has just ended, in words; empty when nothing is asked."""
    captured: str = ""
    """Name of the glitch kept last for the case, or in this sitting: it can be given again."""
    offers: tuple[Offer, ...] = ()
    """Values worth telling the module, computed from what is known."""
    news: str = ""
    """What an act has to say when it begins or ends, such as a test's result."""
    outcomes: tuple[Outcome, ...] = ()
    """What became of the newest few such requests, oldest first: two may come between two looks."""
    calibration: CalibrationLook | None = None
    """The calibration under way, or what became of the last one of this sitting."""
    trouble_words: str = ""
    """A lost board or a laptop that slept: what it means and what happens next."""

    @property
    def outcome(self) -> Outcome | None:
        """What became of the newest request that changes what the module is told."""
        return self.outcomes[-1] if self.outcomes else None


def on_the_way(goal: tuple[float, str], told_c: float) -> str:
    """The words of a hold, with the time it still needs to get there."""
    celsius, words = goal
    left_s = abs(celsius - told_c) / RATE_LIMIT_C_PER_S
    if left_s < NEARLY_S:
        return words
    left = f"{left_s / 60:.0f} min" if left_s >= 90 else f"{left_s:.0f} s"
    return f"{words}, there in {left}"
