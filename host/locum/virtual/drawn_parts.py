"""The parts of one random board: wipers, fixed resistors, references, as their tolerances allow.

Ranges follow data sheets where they speak (20 % pots, 0.1 % references, 100 nA typical pot leakage) and
are guesses otherwise.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from .wiper import REFERENCE_HOT, REFERENCE_WIPERS, ChipLaw, pot_bend, tolerance


class DrawnParts:
    """Values at 25 degC and how each drifts; which resistance that makes is ``analog.NetworkTruth``'s.

    Parameters
    ----------
    board_sheet : dict
        ``[network]`` and ``[ohmmeter]`` of a parsed hardware/boards/*.toml; what is missing is the
        reference board's.
    rng : Generator
        Drawn from in a fixed order: the same generator gives the same board.
    """

    def __init__(self, board_sheet: dict[str, Any], rng: np.random.Generator) -> None:
        network = board_sheet.get("network", {})
        self._draw_wipers(network.get("wiper", REFERENCE_WIPERS), rng)
        self._draw_fixed(network, board_sheet.get("ohmmeter", {}), rng)

    def _draw_wipers(self, wipers: list[dict], rng: np.random.Generator) -> None:
        self.wipers = len(wipers)
        taps = max(int(w.get("taps", 257)) for w in wipers)
        self.taps = taps
        self._base = np.zeros((self.wipers, taps))
        self._wiper0 = np.zeros((self.wipers, taps))
        self._rab_ppm = rng.normal(60, 25, self.wipers)
        self._wiper_per_k = rng.normal(0.0035, 0.0007, self.wipers)
        chips = {w.get("chip", i): ChipLaw(rng) for i, w in enumerate(wipers)}
        self._laws = [
            chips[w.get("chip", i)].of_one_wiper(float(w.get("wiper_ohm", 75.0)), rng)
            for i, w in enumerate(wipers)
        ]
        chip_wiper = {key: rng.uniform(55, 120) / 75 for key in chips}
        for i, w in enumerate(wipers):
            rab = float(w["rab_ohm"]) * (1 + tolerance(w.get("rab_tolerance_pct", 20.0), rng))
            steps = int(w.get("taps", 257)) - 1
            x = np.arange(taps).clip(0, steps) / steps
            self._base[i] = rab * x + pot_bend(x, rab / steps, rng)
            level = float(w.get("wiper_ohm", 75.0)) * chip_wiper[w.get("chip", i)]
            level *= 1 + rng.normal(0, 0.01)  # match within a package
            wave = 0.02 * np.sin(2 * np.pi * (rng.uniform(1, 3) * x + rng.uniform()))
            self._wiper0[i] = level * (1 + wave + 0.004 * rng.normal(size=taps))
        self._leak_off_ohm = rng.uniform(25e6, 100e6, self.wipers)
        self._leak_a = rng.normal(0, 20e-9, self.wipers)

    def _draw_fixed(self, network: dict, meter: dict, rng: np.random.Generator) -> None:
        self._series0 = float(network.get("series_ohm", 36.0)) + rng.uniform(-1.0, 1.0)
        self._series_per_k = rng.uniform(0.004, 0.012)  # fuse and solid-state switch, ohm/K
        self._series_walk = 0.0
        hot = network.get("hot", REFERENCE_HOT)
        self._hot0 = np.array(
            [
                float(h["ohm"]) * (1 + tolerance(h.get("tolerance_pct", 0.1), rng))
                + float(h.get("switch_ohm", 0.1)) * rng.uniform(0.3, 1.0)
                for h in hot
            ]
        )
        self._hot_ppm = rng.normal(0, 15, len(hot))
        ranges = np.array(meter.get("ranges_ohm", [1500.0, 12050.0, 100750.0]), float)
        self._range0 = ranges * (1 + rng.uniform(-0.001, 0.001, len(ranges)))
        self._range_ppm = rng.normal(0, 12, len(ranges))
        self._meter_leak0_a = rng.normal(0, 15e-9)
