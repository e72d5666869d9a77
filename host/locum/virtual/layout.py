"""How an order lies on a drive: what is connected and how the foot is, at any time."""

from __future__ import annotations

import numpy as np

from .case import Order


class Layout:
    """Stretches end to end; ``disobeys``: chance that a still foot is forgotten for a stretch."""

    def __init__(self, order: Order, disobeys: float, rng: np.random.Generator) -> None:
        end_s, tapped = order.hours * 3600, order.tap != "none"
        begin, laid, still = 0.0, [], []
        for stretch in order.stretches:
            if begin >= end_s:
                break
            end = min(end_s, begin + stretch.length_s)
            laid.append((begin, end, stretch.connected if tapped else "real", stretch.foot))
            still.append(stretch.foot == "still" and rng.random() >= disobeys)
            begin = end
        if begin < end_s:
            laid.append((begin, end_s, "real", "normal"))
            still.append(False)
        self.stretches: tuple[tuple[float, float, str, str], ...] = tuple(laid)
        """(start_s, end_s, connected, foot as ordered)."""
        self._still = still
        self._ends = [s[1] for s in laid]
        self.any_still = True in still

    def connected_at(self, t_s: float) -> str:
        for end, stretch in zip(self._ends, self.stretches, strict=True):
            if t_s < end:
                return stretch[2]
        return self.stretches[-1][2]

    def still_at(self, times: np.ndarray) -> np.ndarray:
        """Whether the foot really is still at each time."""
        if len(self._still) == 1:
            return np.full(len(times), self._still[0])
        return np.array(self._still)[np.searchsorted(self._ends[:-1], times, side="right")]

    def real_at(self, times: np.ndarray) -> np.ndarray:
        """Whether the real sensor feeds the module at each time."""
        real = [s[2] == "real" for s in self.stretches]
        if all(real) or not any(real):
            return np.full(len(times), real[0])
        return np.array(real)[np.searchsorted(self._ends[:-1], times, side="right")]
