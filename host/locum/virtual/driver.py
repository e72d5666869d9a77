"""The driver: own acts that make the clutch let go, foot still, and the helper's mark button.

An act is a brake press, a lift, a kick-down, or a change of load that no channel shows. The time of
each possible act and all its random numbers are drawn in order, whether it then happens or not, so
that asking the driver to keep the foot still thins the same list instead of making another.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from random import Random

from .module import NEVER_MS

IDLE_V, TOWN_V, CRUISE_V, KICK_V, EASED_V = 0.6, 1.2, 1.7, 3.9, 0.9
BASE_V = {"off": IDLE_V, "idle": IDLE_V, "town": TOWN_V, "road": CRUISE_V}


@dataclass(frozen=True)
class DriverHabits:
    """Shares and rates, named as in scenario files."""

    own_downshifts_per_h: float = 12.0
    brake_share: float = 0.4
    still_foot_factor: float = 0.1
    unnoticed_share: float = 0.03
    button_hit: float = 0.85
    button_own: float = 0.02
    button_imagined_per_h: float = 0.08
    pulse_median_s: float = 2.0
    pulse_sigma: float = 0.5
    disobeys: float = 0.02
    """Chance that a request to keep the foot still is forgotten for that stretch."""


class Driver:
    """Events in a heap; ``world`` carries them out."""

    def __init__(self, habits: DriverHabits, rng: Random, mark_rng: Random) -> None:
        self.habits = habits
        self.rng = rng
        self.mark_rng = mark_rng
        self.still = False
        self.driving = False
        self.throttle_v = IDLE_V
        self.base_v = IDLE_V
        self._held: list[float] = []
        """Throttle values of acts under way, the last one counts."""
        self._queue: list[tuple[int, int, str, float]] = []
        self._order = 0
        self.next_ms = NEVER_MS
        self.marks: list[int] = []

    def push(self, t_ms: float, what: str, value: float = 0.0) -> None:
        self._order += 1
        heapq.heappush(self._queue, (round(t_ms), self._order, what, value))
        self.next_ms = self._queue[0][0]

    # driving ---------------------------------------------------------------------------------

    def drive_off(self, t_ms: int) -> None:
        self.driving = True
        self.push(t_ms + self._wait_ms(self.habits.own_downshifts_per_h, self.rng), "act")
        self.push(t_ms + self._wait_ms(self.habits.button_imagined_per_h, self.mark_rng), "imagine")

    def park(self) -> None:
        """Forget everything that has not begun; what has begun ends as planned."""
        self.driving = False
        endings = [e for e in self._queue if e[2] not in ("act", "imagine", "mark")]
        heapq.heapify(endings)
        self._queue = endings
        self.next_ms = endings[0][0] if endings else NEVER_MS

    def ask_foot_still(self, on: bool) -> None:
        self.still = on and self.rng.random() >= self.habits.disobeys

    @property
    def busy(self) -> bool:
        """An act is under way."""
        return bool(self._held)

    def set_base(self, pace: str) -> None:
        self.base_v = BASE_V[pace]

    @staticmethod
    def _wait_ms(per_h: float, rng: Random) -> float:
        return rng.expovariate(per_h) * 3.6e6 if per_h > 0 else NEVER_MS

    def at(self, t_ms: int, world) -> None:
        _, _, what, value = heapq.heappop(self._queue)
        self.next_ms = self._queue[0][0] if self._queue else NEVER_MS
        if what == "act":
            self._maybe_act(t_ms, world)
        elif what == "imagine":
            self.push(t_ms + self._wait_ms(self.habits.button_imagined_per_h, self.mark_rng), what)
            self.marks.append(t_ms)
        elif what == "mark":
            self.marks.append(t_ms)
        elif what in ("brake_on", "brake_off"):
            world.brake(t_ms, what == "brake_on")
        elif what in ("hold", "ease"):
            self._held.append(value)
            if what == "hold":
                world.reason(t_ms, "foot", True)
        elif what in ("let", "eased"):
            if value in self._held:
                self._held.remove(value)
            if what == "let":
                world.reason(t_ms, "foot", False)
        elif what == "at_speed":
            world.at_speed(t_ms)
        elif what == "pulse_ends":
            world.pulse_ends(t_ms)
        else:  # load_on, load_off
            world.reason(t_ms, "load", what == "load_on")
        self.throttle_v = self._held[-1] if self._held else self.base_v

    def _maybe_act(self, t_ms: int, world) -> None:
        rng, h = self.rng, self.habits
        self.push(t_ms + self._wait_ms(h.own_downshifts_per_h, rng), "act")
        keep, kind, which = rng.random(), rng.random(), rng.random()
        pulse_s = min(20.0, max(0.3, h.pulse_median_s * rng.lognormvariate(0, h.pulse_sigma)))
        if world.pace != "road" or (self.still and keep >= h.still_foot_factor):
            return
        end_ms = t_ms + 1000 * pulse_s
        if kind < h.unnoticed_share:
            self.push(t_ms, "load_on")
            self.push(end_ms + 2000, "load_off")
        elif kind < h.unnoticed_share + (1 - h.unnoticed_share) * h.brake_share:
            self.lift(t_ms, end_ms + 800)
            self.push(t_ms + 200, "brake_on")
            self.push(end_ms, "brake_off")
        else:
            self.lift(t_ms, end_ms + 1000, KICK_V if which < 0.4 else IDLE_V)

    def lift(self, t_ms: float, until_ms: float, volts: float = IDLE_V) -> None:
        self.push(t_ms, "hold", volts)
        self.push(until_ms, "let", volts)

    # the button ------------------------------------------------------------------------------

    def feel(self, t_ms: int, chance: float) -> None:
        """Something was felt; with that chance the button is pressed 0.5-3 s later."""
        hit, late = self.mark_rng.random(), self.mark_rng.uniform(500, 3000)
        if hit < chance and self.driving:
            self.push(t_ms + late, "mark")
