"""A profile as time: spans of straight pieces, each with its contact, some of them repeated.

Between two knots the temperature is a straight line; the contact (through, open, short) belongs to
the piece that begins at a knot. A span with ``times`` above one is played that often in a row: one
cycle of a hold's wander, one glitch of a train. Everything is in degrees Celsius from here on; a
profile in ohms has been turned by the sensor's curve.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from locum.planning.smooth import unrounded
from locum.sheets.profile import ProfileSheet, Segment
from locum.sheets.recorded import CONTACTS, Recording

RATE_LIMIT_C_PER_S = 0.3
"""Faster than this a healthy sensor in a liquid does not move (common practice: makers' own rationality
limits lie at 0.15 to 0.4 K/s); modules may judge it a fault."""
DEFAULT_WANDER_C = 0.3
"""Half swing of a hold, so that the value does not look stuck to a module."""
WARMUP_KNOT_C = 0.02
"""Largest departure of a straight piece from a warm-up's exponential."""


@dataclass(frozen=True)
class Span:
    """A stretch of straight pieces between knots, played ``times`` times in a row."""

    t_s: np.ndarray
    """Knots from 0, increasing or equal (a jump). [s]"""
    celsius: np.ndarray
    contact: np.ndarray
    """uint8 per knot: 0 through, 1 open, 2 short; holds until the next knot."""
    times: int = 1
    where: str = ""
    kind: str = ""

    @property
    def seconds(self) -> float:
        """Length with all repeats. [s]"""
        return float(self.t_s[-1]) * self.times

    def steepest_c_per_s(self) -> float:
        """Greatest slope between knots, infinite for a jump. [K/s]"""
        rise = np.abs(np.diff(self.celsius))
        run = np.diff(self.t_s)
        with np.errstate(divide="ignore", invalid="ignore"):
            slopes = np.where(rise > 1e-9, rise / run, 0.0)
        return float(slopes.max(initial=0.0))


def line(
    where: str,
    kind: str,
    *knots: tuple[float, float],
    contact: int | tuple[int, ...] = 0,
    times: int = 1,
) -> Span:
    """A span through (t_s, celsius) knots."""
    t, c = np.array(knots, float).T
    contacts = np.broadcast_to(np.asarray(contact, np.uint8), t.shape).copy()
    return Span(t, c, contacts, times, where, kind)


class TimelineMaker:
    """Turns segments into spans one after another, remembering where the last one ended."""

    def __init__(self, to_celsius: Callable[[Any], Any], delta_c: float, fast: bool) -> None:
        self._to_celsius = to_celsius
        self._delta = delta_c
        self._fast = fast
        self._at: float | None = None

    def spans(self, segment: Segment) -> list[Span]:
        """The segment's spans, led up to at the limit rate from where the last one ended."""
        made = getattr(self, f"_{segment.kind}")(segment)
        for span in made:
            self._at = float(span.celsius[-1])
        return made

    def _value(self, value: float | None) -> float:
        if value is not None:
            return self._to_celsius(value)
        return self._at if self._at is not None else self._to_celsius(20.0 / self._delta)

    def _ease(self, target_c: float, where: str) -> list[Span]:
        """Go from the present value at the limit rate, unless there is none yet or fast is asked."""
        if self._at is None or self._fast or abs(target_c - self._at) < 1e-9:
            return []
        seconds = abs(target_c - self._at) / RATE_LIMIT_C_PER_S
        return [line(where, "ease", (0, self._at), (seconds, target_c))]

    def _hold(self, segment: Segment) -> list[Span]:
        v, at = segment.values, self._value(segment.values["at"])
        seconds, period = v["minutes"] * 60.0, v["wander_period_s"]
        swing = DEFAULT_WANDER_C if v["wander"] is None else v["wander"] * self._delta
        swing = min(swing, RATE_LIMIT_C_PER_S * period / 4)
        made = self._ease(at, segment.where)
        cycles = int(seconds // period) if swing > 0 else 0
        if cycles:
            quarter = period / 4
            made.append(
                line(
                    segment.where,
                    "hold",
                    (0, at),
                    (quarter, at + swing),
                    (3 * quarter, at - swing),
                    (period, at),
                    times=cycles,
                )  # fmt: skip
            )
        rest = seconds - cycles * period
        if rest > 0:
            made.append(line(segment.where, "hold", (0, at), (rest, at)))
        return made

    def _ramp(self, segment: Segment) -> list[Span]:
        v = segment.values
        start, end = self._value(v["from"]), self._value(v["to"])
        made = self._ease(start, segment.where) if v["from"] is not None else []
        rate = v["rate_per_s"]
        seconds = v["minutes"] * 60 if rate is None else abs(end - start) / (rate * self._delta)
        return [*made, line(segment.where, "ramp", (0, start), (seconds, end))]

    def _sweep(self, segment: Segment) -> list[Span]:
        v = segment.values
        low, high = self._value(v["from"]), self._value(v["to"])
        half = v["minutes"] * 60
        made = self._ease(low, segment.where)
        there_and_back = line(
            segment.where, "sweep", (0, low), (half, high), (2 * half, low), times=v["times"]
        )
        return [*made, there_and_back]

    def _warmup(self, segment: Segment) -> list[Span]:
        v = segment.values
        start, end = self._value(v["from"]), self._value(v["to"])
        seconds, tau = v["minutes"] * 60, v["tau_s"]
        # A chord over an exponential departs by h^2/8 of its second derivative.
        widest = np.sqrt(8 * WARMUP_KNOT_C * tau**2 / max(abs(end - start), 1e-9))
        count = int(np.clip(np.ceil(seconds / widest) * 4, 2, 4000))
        t = np.linspace(0, seconds, count + 1)
        celsius = end + (start - end) * np.exp(-t / tau)
        made = self._ease(start, segment.where)
        contact = np.zeros(t.shape, np.uint8)
        return [*made, Span(t, celsius, contact, 1, segment.where, "warmup")]

    def _steps(self, segment: Segment) -> list[Span]:
        made: list[Span] = []
        for value in segment.values["at"]:
            at = self._value(value)
            made += self._ease(at, segment.where)
            dwell = segment.values["dwell_s"]
            made.append(line(segment.where, "steps", (0, at), (dwell, at)))
            self._at = at
        return made

    def _glitches(self, segment: Segment) -> list[Span]:
        v = segment.values
        at = self._value(v["at"])
        length, every = v["length_ms"] / 1000, v["every_s"]
        quiet = max(every - length, 0.0)
        made = self._ease(at, segment.where)
        if v["by"] is None:
            contact = 1 if v["towards"] == "cold" else 2
            train = line(segment.where, "glitches", (0, at), (quiet, at), (quiet + length, at),
                         contact=(0, contact, 0), times=v["count"])  # fmt: skip
        else:
            away = at + (-1 if v["towards"] == "cold" else 1) * v["by"] * self._delta
            train = line(segment.where, "glitches", (0, at), (quiet, at), (quiet, away),
                         (quiet + length, away), (quiet + length, at), times=v["count"])  # fmt: skip
        return [*made, train]

    def _recorded(self, segment: Segment) -> list[Span]:
        recording: Recording = segment.values["recording"]
        t = np.array(recording.time_s) - recording.time_s[0]
        value = np.array(recording.value)
        if recording.whole_degrees:
            value = unrounded(t, value)
        celsius = np.array(self._to_celsius(value), float)
        contact = np.array([CONTACTS.index(c) for c in recording.contact], np.uint8)
        made = self._ease(float(celsius[0]), segment.where)
        return [*made, Span(t, celsius, contact, 1, segment.where, "recorded")]


def timeline(profile: ProfileSheet, curve, fast: bool = False) -> list[Span]:
    """The spans of a profile, in degC.

    ``curve`` turns a profile in ohms; its ``Refused`` passes through where a value lies outside
    its domain.
    """
    if profile.unit == "ohm":
        convert, delta = curve.temperature_c, 1.0
    elif profile.unit == "fahrenheit":
        convert, delta = (lambda f: (np.asarray(f, float) - 32.0) / 1.8), 1 / 1.8
    else:
        convert, delta = (lambda c: np.asarray(c, float)), 1.0
    maker = TimelineMaker(lambda v: _plain(convert(v)), delta, fast or profile.fast)
    return [span for segment in profile.segments for span in maker.spans(segment)]


def _plain(value):
    array = np.asarray(value, float)
    return float(array) if array.ndim == 0 else array


def scaled_to_start(spans: list[Span], start_c: float, rate_c_per_s: float) -> list[Span]:
    """The spans with a lead-in from ``start_c`` to the first value at the given rate. [K/s]"""
    first = spans[0]
    goal = float(first.celsius[0])
    if abs(goal - start_c) < 1e-6:
        return spans
    seconds = abs(goal - start_c) / rate_c_per_s
    return [line(first.where, "entry", (0, start_c), (seconds, goal)), *spans]
