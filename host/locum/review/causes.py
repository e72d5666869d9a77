"""Why a release happened, as far as the channels can tell.

In order: the board's own disturbance; the driver's foot (throttle, brake, selector); the road
(speed, or an answer after the bell); a channel that would have told is missing: ``unknown``;
otherwise ``none``, a kick-out. A brake pulse too short for a foot explains nothing: it is the
switch or its wire, and is handed on with its length. Whether a glitch of the real sensor came
before is a link of its own and no cause.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from locum.review.chunk import MARK_BRAKE, MARK_FOOT, MARK_ROAD
from locum.review.context import Context

ANSWERS = {MARK_FOOT: "driver", MARK_BRAKE: "driver", MARK_ROAD: "road"}
ANSWER_WORDS = {MARK_FOOT: "foot", MARK_BRAKE: "brake", MARK_ROAD: "road"}
KEEP_MS = 120_000
THROTTLE_LAG_MS = 200
"""The board looks at the throttle ten times a second, and later while it is busy: the row that tells
of a move may come so long after a release that the move made."""
SPEED_HOLDS_MS = 10_000
"""A log of speed has a row a second or so; older than this the speed is not known any more."""


@dataclass
class Acts:
    """What was done around a release: sorted times, kept for two minutes."""

    brake: list[tuple[int, int | None]] = field(default_factory=list)
    """(on_ms, off_ms or None while on)."""
    throttle: list[int] = field(default_factory=list)
    selector: list[int] = field(default_factory=list)
    speed: list[tuple[int, float]] = field(default_factory=list)
    gaps: list[tuple[int, int]] = field(default_factory=list)
    answers: list[tuple[int, int]] = field(default_factory=list)
    """(t_ms, mark kind)."""

    def forget(self, before_ms: int) -> None:
        self.brake = [b for b in self.brake if b[1] is None or b[1] >= before_ms]
        self.throttle = [t for t in self.throttle if t >= before_ms]
        self.selector = [t for t in self.selector if t >= before_ms]
        self.speed = [s for s in self.speed[:-1] if s[0] >= before_ms] + self.speed[-1:]
        open_since_ms = min([before_ms, *(on for on, off in self.brake if off is None)])
        self.gaps = [g for g in self.gaps if g[1] >= open_since_ms]
        self.answers = [a for a in self.answers if a[0] >= before_ms]

    def doubtful(self, on_ms: int, t_ms: int) -> bool:
        """True if records were lost between a brake's coming on and a time."""
        return any(on_ms <= until and begin <= t_ms for begin, until in self.gaps)

    def speed_at(self, t_ms: int) -> float | None:
        """The latest speed known at a time; None if there is none or it is too old. [km/h]"""
        known = [kmh for t, kmh in self.speed if t_ms - SPEED_HOLDS_MS <= t <= t_ms]
        return known[-1] if known else None


@dataclass(frozen=True)
class Cause:
    """Cause of one release with the detail a person wants to read."""

    cause: str
    detail: str = ""
    brake_pulse_ms: int | None = None


def brake_pulse(acts: Acts, t_ms: int, now_ms: int, lookback_ms: int) -> int | None:
    """Length up to now of the longest brake pulse that touches the look-back. [ms]

    Left out is one whose end may have been lost: nobody knows whether the brake is on still.
    """
    lengths = [
        min(now_ms if off is None else off, now_ms) - on
        for on, off in acts.brake
        if on <= t_ms and (off is None or off >= t_ms - lookback_ms) and not acts.doubtful(on, t_ms)
    ]
    return max(lengths, default=None)


def cause_of(context: Context, acts: Acts, t_ms: int, now_ms: int, own: str) -> Cause:
    """Cause of a release at ``t_ms``, knowing what was recorded up to ``now_ms``.

    ``own`` names the board's disturbance in the look-back, empty if there is none.
    """
    pulse = brake_pulse(acts, t_ms, now_ms, context.driver_lookback_ms)
    if own:
        return Cause("ours", own, pulse)
    since_ms = t_ms - context.driver_lookback_ms
    if pulse is not None and pulse >= context.foot_pulse_ms:
        return Cause("driver", "brake", pulse)
    if any(since_ms <= t <= t_ms + THROTTLE_LAG_MS for t in acts.throttle):
        return Cause("driver", "throttle", pulse)
    if any(since_ms <= t <= t_ms for t in acts.selector):
        return Cause("driver", "selector", pulse)
    answer = next((kind for t, kind in acts.answers if t_ms <= t <= now_ms), None)
    if answer is not None:
        return Cause(ANSWERS[answer], f"answered: {ANSWER_WORDS[answer]}", pulse)
    slow = _slow(context, acts, t_ms)
    if slow:
        return Cause("road", "speed", pulse)
    missing = _missing(context, acts, t_ms, now_ms)
    if missing:
        return Cause("unknown", missing, pulse)
    if pulse is not None:
        return Cause("none", f"brake line on for {pulse} ms, too short for a foot", pulse)
    return Cause("none")


def _slow(context: Context, acts: Acts, t_ms: int) -> bool:
    if context.road_below_kmh is None:
        return False
    kmh = acts.speed_at(t_ms)
    return kmh is not None and kmh < context.road_below_kmh


def _missing(context: Context, acts: Acts, t_ms: int, now_ms: int) -> str:
    there = {
        "brake": bool(context.by_role("brake")),
        "throttle": context.throttle,
        "speed": acts.speed_at(t_ms) is not None,
    }
    absent = [name for name in context.needed if not there.get(name, False)]
    if absent:
        return "not wired: " + ", ".join(absent)
    since_ms = t_ms - context.driver_lookback_ms
    since_ms = min([since_ms, *(on for on, off in acts.brake if _touches(on, off, t_ms, since_ms))])
    if any(begin <= t_ms and until >= since_ms for begin, until in acts.gaps):
        return "records lost"
    return ""


def _touches(on_ms: int, off_ms: int | None, t_ms: int, since_ms: int) -> bool:
    return on_ms <= t_ms and (off_ms is None or off_ms >= since_ms)
