"""What operator and driver do when they are told to: the orders of ``World.tell``."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from .driver import IDLE_V
from .hidden import DROPOUT_CULPRITS
from .module import NEVER_MS
from .sensor import Thermistor

if TYPE_CHECKING:
    from .world import World

TO_SPEED_MS = 6000
CONTACTS = DROPOUT_CULPRITS | {"ground"}
PLACES_TO_TAP = ("none", "sensor", "module")


def engine_start(world: World, cold_c: float | None = None) -> None:
    """Start; ``cold_c`` sets the coolant first, else it is as it is."""
    if cold_c is not None:
        world.coolant.set(cold_c)
        world.settle_temperature()
    world.running = True
    world.run_ms = 0
    if world.pace == "off":
        world.trip.pace = "idle"


def engine_stop(world: World) -> None:
    park(world)
    world.running = False
    world.trip.pace = "off"


def drive(world: World, wet: bool = False, weather_c: float | None = None) -> None:
    """Drive off; a new drive has its own share of the fault's unevenness."""
    if world.driving:
        park(world)
    if not world.running:
        engine_start(world)
    if weather_c is not None:
        world.coolant.ambient_c = float(weather_c)
    world.wet = wet
    world.driving = True
    world.faults.new_drive()
    world.piece_ms = world.trip.drive_off(world.now_ms)
    driver = world.driver
    driver.drive_off(world.now_ms)
    driver.set_base(world.pace)
    driver.throttle_v = driver.base_v
    if world.pace == "road":
        driver.push(world.now_ms + TO_SPEED_MS, "at_speed")


def park(world: World) -> None:
    """Stop and idle; nobody stops without foot and brake."""
    if not world.driving:
        return
    now, driver = world.now_ms, world.driver
    world.driving = False
    driver.park()
    if world.pace == "road":
        driver.lift(now, now + 5000)
        driver.push(now + 300, "brake_on")
        driver.push(now + 4000, "brake_off")
    if "speed" not in world.module.reasons:
        world.module.reason(now, "speed", True, 1.0)
    world.piece_ms = NEVER_MS
    world.trip.pace = "idle"
    driver.set_base("idle")
    driver.throttle_v = IDLE_V


def foot_still(world: World, on: bool = True) -> None:
    world.driver.ask_foot_still(on)


def repair(world: World) -> None:
    """The culprit is put right; a drifted sensor is exchanged for one that is on its table."""
    world.faults.repair()
    world.mishaps.swing_to_c = 0.0
    if world.truth.facts.sensor.drift_c:
        world.truth.facts = replace(world.truth.facts, sensor=Thermistor())
        world.settle_temperature()


def tap(world: World, where: str = "module") -> None:
    """Cut in at a plug, which may put a bad contact to sleep."""
    if where not in PLACES_TO_TAP:
        raise ValueError(f"tap at '{where}'; known: {', '.join(PLACES_TO_TAP)}")
    facts, chain, rng = world.truth.facts, world.circuit.chain, world.mishaps.rng
    culprit = facts.fault.culprit
    direct = culprit == "connector" and where == "sensor"
    chance = facts.wipe_sensor_plug if direct else facts.wipe_other
    touched = where not in ("none", chain.tap)
    if touched and rng.random() < chance and culprit in CONTACTS:
        world.faults.asleep_h = rng.expovariate(1 / facts.asleep_h)
    chain.tap = where
    world.circuit.feed(world.now_ms)


def cool_down(world: World, hours: float = 8.0) -> None:
    """Time away between drives; the clock does not move."""
    engine_stop(world)
    world.coolant.cool_down(hours)
    world.settle_temperature()


ORDERS: dict[str, Callable[..., None]] = {
    "engine_start": engine_start,
    "engine_stop": engine_stop,
    "drive": drive,
    "park": park,
    "foot_still": foot_still,
    "repair": repair,
    "tap": tap,
    "cool_down": cool_down,
}
