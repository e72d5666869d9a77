"""From node voltage or ohms to a scale on which a kelvin is a kelvin.

Glitches are judged in kelvin so that one threshold serves a cold and a hot sensor. With points of
the sensor the scale is its curve; without them every NTC is taken to change by 3 % per kelvin,
which is right within a factor of two from -30 to 130 degC. Without the pull-up's resistance the
node still gives ohms up to a constant factor, and that is enough for departures.
"""

from __future__ import annotations

import numpy as np

from locum.review.chunk import OPEN_MILLIOHM
from locum.review.context import Context

USUAL_PER_K = 0.03
"""Relative change of an NTC per kelvin: 4 % at 20 degC, 2.7 % at 90 degC for beta 3500 K."""
OPEN_OHM = OPEN_MILLIOHM / 1000.0
LEAST_OHM = 1.0


class Scale:
    """Turns readings of one vehicle into a temperature-like number. [K, offset of no meaning]"""

    def __init__(self, context: Context) -> None:
        self.open_v = context.open_v
        self.pull_ups = [context.pull_up_ohm or 1000.0]
        self.known = context.pull_up_ohm is not None
        if context.second_pull_up_ohm:
            self.pull_ups.append(context.second_pull_up_ohm)
        points = sorted(context.curve_points)
        self._ln_ohm = np.log([ohm for ohm, _ in points]) if len(points) > 1 else None
        self._celsius = np.array([celsius for _, celsius in points])

    def ohm_from_node(self, node_v: np.ndarray, stage: int = 0) -> np.ndarray:
        """Resistance that makes this node voltage; clipped to 1 ohm .. "open". [ohm]"""
        node_v = np.asarray(node_v, float)
        left = np.maximum(self.open_v - node_v, 1e-9)
        ohm = self.pull_ups[stage] * np.maximum(node_v, 0.0) / left
        return np.where(node_v > 0.995 * self.open_v, OPEN_OHM, np.clip(ohm, LEAST_OHM, OPEN_OHM))

    def kelvin(self, ohm: np.ndarray) -> np.ndarray:
        """The scale, falling with ohms; 250 K wide at most, so that "open" is finite."""
        ln_ohm = np.log(np.clip(ohm, LEAST_OHM, OPEN_OHM))
        if self._ln_ohm is None:
            return np.clip(25.0 - (ln_ohm - np.log(2500.0)) / USUAL_PER_K, -100.0, 300.0)
        inside = np.interp(ln_ohm, self._ln_ohm, self._celsius)
        over = ln_ohm - np.clip(ln_ohm, self._ln_ohm[0], self._ln_ohm[-1])
        return np.clip(inside - over / USUAL_PER_K, -100.0, 300.0)

    def node_kelvin(self, node_v: np.ndarray) -> list[np.ndarray]:
        """One array for each stage of the pull-up."""
        return [
            self.kelvin(self.ohm_from_node(node_v, stage)) for stage in range(len(self.pull_ups))
        ]
