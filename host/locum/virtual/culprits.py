"""What goes wrong, and when: the fault's bursts, and harmless glitches beside them.

Possible bursts come at the highest rate any drive could have; each then happens with a chance that
follows the present drive, weather and exposure. All random numbers of a possible burst are drawn
when it is drawn, so that what happens in one drive does not depend on how time was cut in it.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from random import Random

from .module import NEVER_MS

CHANCE_MS = 20_000.0
"""Mean spacing of possible bursts of a fault with memory."""
MOST = 6.0
"""Drives worse than this many times the mean are as bad as this."""


@dataclass(frozen=True)
class FaultFacts:
    """One case's fault."""

    culprit: str = "nothing"
    bursts_per_exposed_h: float = 0.0
    regularity: float = 1.0
    """Shape of the gamma distribution of the time between bursts; 1 = no memory."""
    drive_shape: float = 2.0
    """Shape of the gamma distribution of a drive's own rate; inf = all drives alike."""
    wet_factor: float = 1.0
    extra_dropouts_mean: float = 2.0
    gap_s: float = 4.0
    length_median_s: float = 0.6
    length_sigma: float = 0.8
    length_span_s: tuple[float, float] = (0.005, 30.0)
    residual_ohm: float = 1e7
    towards_hot: float = 0.0
    """Share of dropouts that go to ground instead of open."""
    pulse_median_s: float = 0.15
    """Of a chattering brake switch."""
    pulse_sigma: float = 0.5
    only_when_slowing: float = 0.0
    """Share of its bursts that come while the driver eases the throttle."""
    after_min: float = 25.0
    above_c: float = 60.0
    drift_swing_c: float = 6.0
    """How much lower a drifted sensor reads for half a minute in a burst. [K]"""


@dataclass(frozen=True)
class InnocentFacts:
    """Harmless glitches of the sensor line."""

    dropouts_per_h: float = 0.0
    length_median_s: float = 0.03
    length_sigma: float = 0.5
    length_span_s: tuple[float, float] = (0.002, 0.1)
    shared_cause: float = 0.0
    """Chance that a burst of the true fault shakes such a glitch loose too."""
    place: str = "connector"
    above_c: float = -273.0
    """They come only with the coolant this warm: near a module's threshold the shortest glitch
    would be answered and not be harmless."""


ONE_BY_ONE = frozenset({"sensor_drift", "hydraulic", "nothing"})
"""Culprits whose bursts are one event each: only contacts and switches chatter."""
PLACE_OF = {"sensor_open": "sensor", "connector": "connector", "harness": "harness"}


class Faults:
    """Source of the fault's and the harmless events; ``world`` carries them out."""

    def __init__(self, fault: FaultFacts, innocent: InnocentFacts, rng: Random) -> None:
        self.fault = fault
        self.innocent = innocent
        self._when = Random(rng.getrandbits(64))
        self._what = Random(rng.getrandbits(64))
        self._other = Random(rng.getrandbits(64))
        self.drive_factor = 1.0
        self.asleep_h = 0.0
        """Exposed hours for which a touched contact stays quiet."""
        self._queue: list[tuple[int, int, str, tuple]] = []
        self._order = 0
        self._most_per_ms = fault.bursts_per_exposed_h * MOST * fault.wet_factor / 3.6e6
        self._pressure = 0.0
        self._burst_at = self._next_pressure()
        self.next_ms = NEVER_MS
        if fault.bursts_per_exposed_h > 0:
            self._push(self._first_ms(0), "chance")
        if innocent.dropouts_per_h > 0:
            self._push(self._innocent_ms(0), "innocent")

    def _push(self, t_ms: float, what: str, facts: tuple = ()) -> None:
        self._order += 1
        heapq.heappush(self._queue, (round(t_ms), self._order, what, facts))
        self.next_ms = self._queue[0][0]

    # rates -----------------------------------------------------------------------------------

    def new_drive(self) -> None:
        shape = self.fault.drive_shape
        self.drive_factor = self._other.gammavariate(shape, 1 / shape) if shape < 1e6 else 1.0

    def repair(self) -> None:
        """The culprit is put right; harmless glitches stay."""
        self._most_per_ms = 0.0
        keep = [e for e in self._queue if e[2] not in ("chance", "dropout")]
        heapq.heapify(keep)
        self._queue = keep
        self.next_ms = keep[0][0] if keep else NEVER_MS

    def _next_pressure(self) -> float:
        k = self.fault.regularity
        return 1.0 if k == 1 else self._when.gammavariate(k, 1 / k)

    def _first_ms(self, t_ms: float) -> float:
        """Next possible burst. With memory, chances come densely and add up instead."""
        rate = self._most_per_ms
        if self.fault.regularity != 1:
            return t_ms + CHANCE_MS * self._when.uniform(0.5, 1.5)
        return t_ms + self._when.expovariate(rate)

    def _innocent_ms(self, t_ms: float) -> float:
        return t_ms + self._other.expovariate(self.innocent.dropouts_per_h / 3.6e6)

    def _comes(self, world) -> bool:
        share = self.drive_factor / MOST
        if not world.wet:
            share /= self.fault.wet_factor
        share = min(1.0, share)
        drawn = self._when.random()
        if not world.exposed(self.fault.after_min, self.fault.above_c):
            return False
        memory = self.fault.regularity != 1
        step_h = CHANCE_MS / 3.6e6 if memory else 1 / (self._most_per_ms * 3.6e6)
        if self.asleep_h > 0:
            self.asleep_h -= step_h
            return False
        if not memory:
            return drawn < share
        self._pressure += CHANCE_MS * self._most_per_ms * share
        if self._pressure < self._burst_at:
            return False
        self._pressure -= self._burst_at
        self._burst_at = self._next_pressure()
        return True

    # events ----------------------------------------------------------------------------------

    def at(self, t_ms: int, world) -> None:
        _, _, what, facts = heapq.heappop(self._queue)
        self.next_ms = self._queue[0][0] if self._queue else NEVER_MS
        if what == "chance":
            comes = self._comes(world)
            burst = self._draw_burst(t_ms)
            if comes:
                for start_ms, length_s, hot in burst:
                    self._push(start_ms, "dropout", (length_s, hot))
                if self._other.random() < self.innocent.shared_cause:
                    self._push(t_ms + self._other.uniform(0, 300), "shared")
            self._push(self._first_ms(t_ms), "chance")
        elif what == "dropout":
            world.mishaps.begin(t_ms, *facts)
        elif what == "calm":
            world.mishaps.calm(t_ms, *facts)
        elif what == "end":
            world.mishaps.end(t_ms, *facts)
        else:  # innocent, shared
            if what == "innocent":
                self._push(self._innocent_ms(t_ms), "innocent")
            f = self.innocent
            warm = world.coolant.coolant_c >= f.above_c
            length_s = _length(f.length_median_s, f.length_sigma, f.length_span_s, self._other)
            if warm:
                world.mishaps.disturb(t_ms, f.place, length_s, False, "innocent")

    def _draw_burst(self, t_ms: int) -> list[tuple[float, float, bool]]:
        rng, f = self._what, self.fault
        more = f.extra_dropouts_mean / (1 + f.extra_dropouts_mean)
        burst, start_ms = [], float(t_ms)
        while True:
            if f.culprit == "another_input":
                length_s = _length(f.pulse_median_s, f.pulse_sigma, (0.02, 5.0), rng)
            else:
                length_s = _length(f.length_median_s, f.length_sigma, f.length_span_s, rng)
            burst.append((start_ms, length_s, rng.random() < f.towards_hot))
            if rng.random() >= more or f.culprit in ONE_BY_ONE:
                return burst
            start_ms += 1000 * (length_s + rng.expovariate(1 / f.gap_s))

    def end_later(self, t_ms: float, what: str, *facts) -> None:
        self._push(t_ms, what, facts)


def _length(median_s: float, sigma: float, span_s: tuple[float, float], rng: Random) -> float:
    drawn = median_s * rng.lognormvariate(0.0, sigma) if sigma > 0 else median_s
    return min(span_s[1], max(span_s[0], drawn))
