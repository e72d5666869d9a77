"""What the culprits do to the world: breaks, pulses, offsets, swings, misread acts."""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

from .culprits import PLACE_OF
from .driver import EASED_V
from .response import shortest_answered_s

if TYPE_CHECKING:
    from .world import World

CALM_OFFSET_V = 0.015
BAD_OFFSET_V = (0.2, 0.6)
HOT_OHM = 5.0
"""To the return, of a break that goes towards hot."""


class Mishaps:
    """Carries out what ``Faults`` decides."""

    def __init__(self, world: World, rng: Random) -> None:
        self.world = world
        self.rng = rng
        self.swing_c = 0.0
        self.swing_to_c = 0.0
        """How much lower than drifted a drifted sensor reads, now and in the end."""
        self.cold_cause = "trip"
        """Whose disturbance of the line the module last saw."""
        self._shortest_s: float | None = None

    def second(self) -> None:
        """A drifted sensor swings by 1 K a second at most: no glitch."""
        gap = self.swing_to_c - self.swing_c
        if gap:
            self.swing_c += min(1.0, max(-1.0, gap))

    def begin(self, t: int, length_s: float, hot: bool) -> None:
        """A dropout, pulse or other event of the culprit begins."""
        world = self.world
        culprit, later = world.truth.culprit, world.faults.end_later
        end_ms = t + 1000 * length_s
        if culprit in PLACE_OF:
            self.disturb(t, PLACE_OF[culprit], length_s, hot, culprit)
        elif culprit == "another_input":
            if self._comes_while_slowing(t, length_s):
                world.brake(t, True, "bad_brake")
                later(end_ms, "end")
        elif culprit == "ground":
            world.set_offset(t, self.rng.uniform(*BAD_OFFSET_V))
            felt = length_s >= self._shortest()
            if felt:
                delay_s = world.module.facts.delay_s + length_s
                world.module.reason(t, "ground", True, delay_s)
            later(end_ms, "end", felt)
        elif culprit == "hydraulic":
            if world.module.locked:
                world.truth.kick_outs.append((t, culprit))
                world.driver.feel(t, world.driver.habits.button_hit)
        elif culprit == "sensor_drift":
            self.swing_to_c = world.truth.facts.fault.drift_swing_c
            later(end_ms + 25_000, "end")
        elif culprit == "nothing":
            self._misread_act(t)

    def end(self, t: int, felt: bool = False) -> None:
        world, culprit = self.world, self.world.truth.culprit
        if culprit == "another_input":
            world.brake(t, False, "bad_brake")
        elif culprit == "sensor_drift":
            self.swing_to_c = 0.0
        elif culprit == "ground":
            world.set_offset(t, CALM_OFFSET_V)
            if felt:
                world.module.reason(t, "ground", False)

    def disturb(self, t: int, place: str, length_s: float, hot: bool, cause: str) -> None:
        """A place of the sensor circuit leaves its value for a while."""
        world, circuit = self.world, self.world.circuit
        circuit.paint(t)
        residual = HOT_OHM if hot else world.truth.facts.fault.residual_ohm
        circuit.chain.disturb(place, residual, not hot)
        if circuit.chain.reaches_module(place, circuit.load.kind in ("sensor", "both")):
            self.cold_cause = cause
        world.truth.glitches.append((t, length_s, place, cause == "innocent"))
        world.faults.end_later(t + max(1.0, 1000 * length_s), "calm", place)
        circuit.stir()
        circuit.feed(t)

    def calm(self, t: int, place: str) -> None:
        circuit = self.world.circuit
        circuit.paint(t)
        circuit.chain.calm(place)
        circuit.feed(t)

    def _comes_while_slowing(self, t: int, length_s: float) -> bool:
        """A switch that chatters only when the throttle is eased: ease it, unless the foot is
        still; the easing alone does not release the clutch."""
        driver = self.world.driver
        share = self.world.truth.facts.fault.only_when_slowing
        if share <= 0:
            return True
        slows, keep = self.rng.random() < share, self.rng.random()
        if not slows:
            return True
        if driver.still and keep >= driver.habits.still_foot_factor:
            return False
        driver.push(t, "ease", EASED_V)
        driver.push(t + 1000 * length_s + 1000, "eased", EASED_V)
        return True

    def _misread_act(self, t: int) -> None:
        """An own act that the customer takes for a fault."""
        driver = self.world.driver
        keep, length_s = self.rng.random(), self.rng.uniform(1.0, 3.0)
        braking = self.rng.random() < driver.habits.brake_share
        if driver.still and keep >= driver.habits.still_foot_factor:
            return
        end_ms = t + 1000 * length_s
        driver.lift(t, end_ms + 800)
        if braking:
            driver.push(t + 200, "brake_on")
            driver.push(end_ms, "brake_off")
        driver.feel(t + 300, driver.habits.button_hit)

    def _shortest(self) -> float:
        if self._shortest_s is None:
            self._shortest_s = shortest_answered_s(self.world.module.facts)
        return self._shortest_s
