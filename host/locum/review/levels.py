"""Raw edges and duties of the watch lines to clean levels.

A level counts once it has held for the line's debounce time. Shorter pulses away from the clean
level are the module's self-test (it looks for the coil's spike): counted, never a change.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from locum.review.chunk import EDGE, Chunk
from locum.review.context import Context, LineSpec


class CleanLine:
    """One line; feed edges in order, get clean changes and short pulses."""

    def __init__(self, spec: LineSpec) -> None:
        self.spec = spec
        self.clean: int | None = None
        self._pending: tuple[int, int] | None = None

    def feed(
        self, times: np.ndarray, levels: np.ndarray, until_ms: int
    ) -> tuple[list[tuple[int, bool]], list[tuple[int, int]]]:
        """Clean changes ``(t_ms, on?)`` and short pulses ``(t_ms, length_ms)`` now certain."""
        if self._pending is not None:
            times = np.concatenate(([self._pending[0]], times))
            levels = np.concatenate(([self._pending[1]], levels))
        if len(times) == 0:
            return [], []
        fresh = np.concatenate(([True], levels[1:] != levels[:-1]))
        times, levels = times[fresh], levels[fresh]
        stays = np.append(np.diff(times), until_ms - times[-1])
        last_certain = stays[-1] >= self.spec.debounce_ms
        self._pending = (int(times[-1]), int(levels[-1]))
        count = len(times) if last_certain else len(times) - 1
        return self._settle(times[:count], levels[:count], stays[:count])

    def _settle(self, times, levels, stays):
        changes, pulses = [], []
        for t_ms, level, stay in zip(times.tolist(), levels.tolist(), stays.tolist(), strict=True):
            if level == self.clean:
                continue
            if stay >= self.spec.debounce_ms:
                self.clean = level
                changes.append((t_ms, level == self.spec.on_level))
            elif self.clean is not None:
                pulses.append((t_ms, stay))
        return changes, pulses


class Levels:
    """All lines together: clean changes in order of time, up to a horizon that moves on."""

    def __init__(self, context: Context) -> None:
        specs = [spec for spec in context.lines if spec.kind != "ignore"]
        self._lines = [CleanLine(spec) for spec in specs]
        self._waits_ms = max((spec.debounce_ms for spec in specs), default=0)
        self._ahead: list[tuple[int, int, bool]] = []
        self._duty_on: dict[int, int | None] = {}
        self._recent: dict[int, deque[int]] = {spec.line: deque(maxlen=3) for spec in specs}
        self._chattering: dict[int, int] = {}
        self.horizon_ms = 0

    def feed(self, chunk: Chunk, until_ms: int, findings) -> list[tuple[int, int, bool]]:
        """``(t_ms, line, on?)`` up to the new horizon; pulses and chatter go to the findings."""
        for line in self._lines:
            times, levels = self._raw(line.spec, chunk)
            changes, pulses = line.feed(times, levels, until_ms)
            number = line.spec.line
            self._ahead.extend((t_ms, number, on) for t_ms, on in changes)
            findings.pulses.extend((t_ms, number, length) for t_ms, length in pulses)
        self.horizon_ms = until_ms - self._waits_ms
        self._ahead.sort()
        count = sum(t_ms <= self.horizon_ms for t_ms, _, _ in self._ahead)
        ready, self._ahead = self._ahead[:count], self._ahead[count:]
        for t_ms, number, _ in ready:
            self._note_chatter(t_ms, number, findings)
        findings.pulses.sort()
        return ready

    def _raw(self, spec: LineSpec, chunk: Chunk) -> tuple[np.ndarray, np.ndarray]:
        if spec.kind == "switched":
            mine = chunk.edges[chunk.edges["line"] == spec.line]
            return mine["t_ms"], mine["level"].astype(int)
        return self._from_duty(spec, chunk.duties[chunk.duties["line"] == spec.line])

    def _from_duty(self, spec: LineSpec, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Share of time on, with hysteresis, as edges."""
        on_share = rows["permille"].astype(int)
        if spec.on_level == 0:
            on_share = 1000 - on_share
        clear = (on_share >= spec.on_permille + 100) | (on_share <= spec.on_permille - 100)
        out = np.zeros(int(clear.sum()), EDGE)
        out["t_ms"] = rows["t_ms"][clear]
        is_on = on_share[clear] > spec.on_permille
        out["level"] = np.where(is_on, spec.on_level, 1 - spec.on_level)
        return out["t_ms"], out["level"].astype(int)

    def _note_chatter(self, t_ms: int, line: int, findings) -> None:
        recent = self._recent[line]
        recent.append(t_ms)
        if len(recent) == 3 and recent[2] - recent[0] <= 1000:
            if t_ms - self._chattering.get(line, -10_000) > 1000:
                findings.chatter.append((recent[0], line))
            self._chattering[line] = t_ms
