"""The codes of a whole plan as they were chosen, and how far its moves leave their ends."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from locum.errors import Remark


@dataclass(frozen=True, eq=False)
class Choice:
    """Codes of a whole plan, one row per step. ``n`` steps, ``w`` wipers."""

    target_ohm: np.ndarray
    """float [n], what was asked for. [ohm]"""
    set_ohm: np.ndarray
    """float [n], what the codes give by the network's tables. [ohm]"""
    codes: np.ndarray
    """int16 [n, w]; a wiper that is out has its last code."""
    out: np.ndarray
    """bool [n, w], True: the wiper's terminal is disconnected."""
    hot: np.ndarray
    """uint8 [n], bits of the hot branches."""
    rank: np.ndarray
    """uint8 [n, w], order of the writes INTO this step: all wipers of rank 0 and 1 are written in
    rank order (equal ranks in wiper order), then the hot bits change, then ranks 2 and 3."""
    wiper_a: np.ndarray
    """float [n, w], current of each wiper at the measured source. [A]"""
    excursion_ohm: np.ndarray
    """float [n], of the values passed through on the way into the step the one that lies farthest
    (in ln R) outside the two ends; equal to ``set_ohm`` where none does. [ohm]"""
    refusals: list[Remark] = field(default_factory=list)
    """Limits that bind; steps they concern hold the nearest value that is allowed."""
    warnings: list[Remark] = field(default_factory=list)

    @property
    def excursion_ln(self) -> np.ndarray:
        """float [n], how far the excursion lies outside its move's two ends, in ln R."""
        ends = np.log(np.stack([np.append(self.set_ohm[:1], self.set_ohm[:-1]), self.set_ohm]))
        worst = np.log(self.excursion_ohm)
        return np.maximum(np.maximum(worst - ends.max(axis=0), ends.min(axis=0) - worst), 0.0)


def excursion_c(choice: Choice, curve) -> np.ndarray:
    """How far each move leaves the span between its two ends. float [n] [K]

    ``curve`` is any of :mod:`locum.physics.curve`. Where the intermediate value lies outside the
    curve's domain the slope at the end is used instead.
    """
    outside = choice.excursion_ln
    result = np.zeros(len(outside))
    rows = np.flatnonzero(outside > 0)
    if len(rows):
        worst = choice.excursion_ohm[rows]
        near = worst * np.exp(np.where(worst > choice.set_ohm[rows], -1, 1) * outside[rows])
        result[rows] = np.abs(curve.temperature_c(worst) - curve.temperature_c(near))
    return result
