"""Wipers of a virtual board: how their switches depend on voltage, how their ladders bend."""

from __future__ import annotations

import numpy as np

VPOT_V = 5.3
REFERENCE_WIPERS = [
    {"name": f"P{i + 1}", "chip": 1 + i // 2, "channel": i % 2, "rab_ohm": rab}
    for i, rab in enumerate((10000.0, 10000.0, 100000.0, 100000.0))
]
REFERENCE_HOT = [{"name": "HOT1", "ohm": 150.0}, {"name": "HOT2", "ohm": 330.0}]


class ChipLaw:
    """How the wiper switches of one chip depend on voltage: a transmission gate.

    Its conductance is the sum of an n-channel part that fades as the terminal rises and a
    p-channel part that wakes above its threshold; what is returned is the ohms that the switch
    has *more* than at 0 V. A second, weaker body-effect term follows no such law.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        self.kappa = float(np.clip(rng.normal(1.0, 0.2), 0.45, 1.6))
        self.vn = float(rng.normal(0.8, 0.05))
        self.vp = float(rng.normal(0.9, 0.06))
        self.fade = float(rng.normal(1.15, 0.04))
        self.body = float(rng.normal(0.0, 0.03))
        self.ohm = 75.0
        self.on = VPOT_V - self.vn

    def of_one_wiper(self, wiper_ohm: float, rng: np.random.Generator) -> ChipLaw:
        law = object.__new__(ChipLaw)
        law.__dict__.update(self.__dict__)
        law.kappa *= 1 + float(rng.normal(0, 0.03))
        law.ohm = wiper_ohm
        return law

    def __call__(self, v):
        on = VPOT_V - self.vn
        siemens = np.maximum(on - self.fade * v, 0) + np.maximum(v - self.vp, 0)
        body = self.body * v * (VPOT_V - v) / 7.0
        return self.ohm * self.kappa * (on / np.maximum(siemens, 0.2) - 1 + body)

    def scalar(self, v: float) -> float:
        on = self.on
        siemens = max(on - self.fade * v, 0.0) + max(v - self.vp, 0.0)
        body = self.body * v * (VPOT_V - v) / 7.0
        return self.ohm * self.kappa * (on / max(siemens, 0.2) - 1 + body)


def tolerance(percent: float, rng: np.random.Generator) -> float:
    return rng.uniform(-1, 1) * float(percent) / 100


def pot_bend(x: np.ndarray, step_ohm: float, rng: np.random.Generator) -> np.ndarray:
    """Non-linearity of a pot's ladder: a smooth bow and uneven steps, within 1 LSB. [ohm]"""
    uneven = rng.normal(0, 0.08, len(x)).cumsum()
    uneven -= np.interp(x, [0, 1], [uneven[0], uneven[-1]])
    bow = rng.normal(0, 0.4) * 4 * x * (1 - x)
    bend = bow + uneven
    worst = float(np.max(np.abs(bend)))
    return bend * step_ohm * min(1.0, 1.0 / max(worst, 1e-9))
