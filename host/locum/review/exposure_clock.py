"""Exposure, second by second: the case's rule was met and the record is whole."""

from __future__ import annotations

import bisect

import numpy as np

from locum.review.causes import SPEED_HOLDS_MS
from locum.review.context import ExposureRule
from locum.review.findings import Exposure, Findings


class ExposureClock:
    """Collects what the rule asks for; settles whole seconds once everything about them is known."""

    def __init__(self, rule: ExposureRule) -> None:
        self.rule = rule
        self.speeds: list[tuple[int, float]] = []
        self.gaps: list[tuple[int, int]] = []
        self._states: list[tuple[int, int, str]] = []
        self._ignition: list[tuple[int, bool]] = []
        self._ohms_t = np.empty(0, "i8")
        self._ohms = np.empty(0)
        self._sources: list[tuple[int, bool]] = [(0, True)]
        self._second: int | None = None

    def ohms(self, track: np.ndarray) -> None:
        """The real sensor's track, in milliohm, without seconds that a glitch fills: the last value
        before one holds through it."""
        self._ohms_t = np.concatenate((self._ohms_t, track["t_ms"]))
        self._ohms = np.concatenate((self._ohms, track["milliohm"] / 1e3))

    def state(self, t_ms: int, group: int, name: str) -> None:
        self._states.append((t_ms, group, name))

    def ignition(self, t_ms: int, on: bool) -> None:
        self._ignition.append((t_ms, on))

    def settle(self, limit_ms: int, findings: Findings, end_ms: int | None) -> None:
        """Count the whole seconds before ``limit_ms`` (and the last, broken one at the end)."""
        first = 0 if self._second is None else self._second
        last = limit_ms // 1000 if end_ms is None else -(-end_ms // 1000)
        if last <= first:
            return
        self._second = last
        begin = np.arange(first, last, dtype="i8") * 1000
        length = np.full(len(begin), 1.0)
        if end_ms is not None and end_ms % 1000:
            length[-1] = end_ms % 1000 / 1000.0
        meets = self._meets(begin)
        lost = self._touches_gap(begin)
        real = self._last(begin, [(t, float(r)) for t, r in self._sources]) > 0.5
        counts = meets & ~lost
        old = findings.exposure
        findings.exposure = Exposure(
            old.recorded_s + float(length.sum()),
            old.exposed_s + float(length[counts].sum()),
            old.exposed_real_s + float(length[counts & real].sum()),
            old.exposed_stand_in_s + float(length[counts & ~real].sum()),
            old.unwatched_s + float(length[meets & lost].sum()),
        )
        findings.exposed.extend(_spans(begin, length, counts))
        self._forget(int(begin[-1]))

    def source(self, t_ms: int, real: bool) -> None:
        self._sources.append((t_ms, real))

    def _meets(self, begin: np.ndarray) -> np.ndarray:
        rule = self.rule
        meets = begin - self._started(begin) >= rule.after_min * 60_000
        if rule.below_ohm is not None or rule.above_ohm is not None:
            meets &= self._ohms_fit(begin)
        if rule.above_kmh is not None:
            meets &= self._last(begin, self.speeds) >= rule.above_kmh
            age_ms = begin - self._last(begin, [(t, float(t)) for t, _ in self.speeds])
            meets &= age_ms <= SPEED_HOLDS_MS
        if rule.in_state is not None:
            groups = {group for _, group, name in self._states if name == rule.in_state}
            held = np.zeros(len(begin), bool)
            for group in groups:
                track = [(t, float(n == rule.in_state)) for t, g, n in self._states if g == group]
                held |= self._last(begin, track) > 0.5
            meets &= held
        return meets

    def _started(self, begin: np.ndarray) -> np.ndarray:
        """Time the ignition came on before each second; infinite while it is off."""
        if not self._ignition:
            return np.zeros(len(begin))
        track = [(t, float(t) if on else np.inf) for t, on in self._ignition]
        first = 0.0 if not self._ignition[0][1] else np.inf
        return self._last(begin, track, first)

    def _ohms_fit(self, begin: np.ndarray) -> np.ndarray:
        if len(self._ohms_t) == 0:
            return np.zeros(len(begin), bool)
        index = np.searchsorted(self._ohms_t, begin + 999, "right") - 1
        ohm = np.where(index >= 0, self._ohms[np.maximum(index, 0)], np.nan)
        low = -np.inf if self.rule.above_ohm is None else self.rule.above_ohm
        high = np.inf if self.rule.below_ohm is None else self.rule.below_ohm
        return (ohm >= low) & (ohm <= high)

    @staticmethod
    def _last(begin, track, before: float = np.nan) -> np.ndarray:
        """Latest value of a track at each second's start."""
        if not track:
            return np.full(len(begin), before)
        times = np.array([t for t, _ in track])
        values = np.array([v for _, v in track], float)
        index = np.searchsorted(times, begin, "right") - 1
        return np.where(index >= 0, values[np.maximum(index, 0)], before)

    def _touches_gap(self, begin: np.ndarray) -> np.ndarray:
        lost = np.zeros(len(begin), bool)
        for since, until in self.gaps:
            lost |= (begin < until) & (begin + 1000 > since)
        return lost

    def _forget(self, before_ms: int) -> None:
        """Keep the latest of everything and what is newer."""
        keep = max(int(np.searchsorted(self._ohms_t, before_ms)) - 1, 0)
        self._ohms_t, self._ohms = self._ohms_t[keep:], self._ohms[keep:]
        self.speeds = _recent(self.speeds, before_ms)
        self._sources = _recent(self._sources, before_ms)
        self._ignition = _recent(self._ignition, before_ms)
        self.gaps = [gap for gap in self.gaps if gap[1] >= before_ms]
        groups = {group for _, group, _ in self._states}
        kept = []
        for group in groups:
            kept += _recent([item for item in self._states if item[1] == group], before_ms)
        self._states = sorted(kept)


def _recent(items: list, before_ms: int) -> list:
    at = bisect.bisect_right([item[0] for item in items], before_ms) - 1
    return items[max(at, 0) :]


def _spans(begin: np.ndarray, length: np.ndarray, counts: np.ndarray) -> list[tuple[int, int]]:
    padded = np.diff(np.concatenate(([0], counts.astype(np.int8), [0])))
    starts, ends = np.flatnonzero(padded == 1), np.flatnonzero(padded == -1) - 1
    return [
        (int(begin[a]), int(begin[b] + length[b] * 1000)) for a, b in zip(starts, ends, strict=True)
    ]
