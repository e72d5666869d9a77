"""Worlds ready made: the demo's parcel van, and a full world of an event-level case."""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING

from .culprits import FaultFacts, InnocentFacts
from .driver import DriverHabits
from .module_facts import ModuleFacts
from .scene import WorldFacts
from .sensor import Thermistor
from .vehicle import TripHabits
from .world import World

if TYPE_CHECKING:
    from .case import Case
    from .hidden import Truth
    from .scenario import Scenario

DEMO_KICK_OUTS_PER_EXPOSED_H = 3.3
"""In the rain, when the complaint is listened to. [1/h]"""
DEMO_WET_FACTOR = 2.2
DEMO_BURSTS_PER_KICK_OUT = 1.24
"""Some bursts have only glitches shorter than the module answers, or come while the clutch is open
anyway; others kick out twice: 49 kick-outs in 16 h of twelve seeds where 61 bursts were due."""


def van_module(rng: Random) -> ModuleFacts:
    """The parcel van's engine module: its sheet's figures, within a specimen's tolerance."""
    return ModuleFacts(
        open_v=5.0 + rng.uniform(-0.03, 0.03),
        pull_up_ohm=(1000.0 * (1 + rng.uniform(-0.01, 0.01)),),
        filter_s=0.12,
        confirm_s=0.15,
        refuse_below_c=52.0,
        refuse_above_c=118.0,
        hysteresis_c=6.0,
        delay_s=0.6,
        self_test_s=97.0,
    )


def make_demo_world(seed: int, innocent: bool = False) -> World:
    """The invented parcel van: the fan runs and the converter clutch lets go at random.

    Guilty: the coolant sensor's circuit breaks for 20-2000 ms, about 3.3 kick-outs an exposed
    hour in the rain, 2.2 times fewer when dry; in which part is drawn from the seed. ``innocent``: the
    brake switch chatters as often, and the sensor's glitches are too short to matter.

    The world starts parked, engine off, ignition on, at the weather's temperature.
    """
    rng = Random(seed * 2 + innocent)
    sensor = Thermistor(factor=1 + rng.gauss(0, 0.008), slope=rng.gauss(0, 0.006))
    fault = _demo_fault(rng, innocent)
    facts = WorldFacts(
        module=van_module(rng),
        fault=fault,
        innocent=_demo_glitches(innocent),
        driver=DriverHabits(own_downshifts_per_h=14.0, unnoticed_share=0.0),
        trip=TripHabits(),
        sensor=sensor,
        weather_c=rng.uniform(6.0, 22.0),
        wipe_sensor_plug=0.3,
        asleep_h=1.0,
    )
    return World(facts, rng.getrandbits(60))


def _demo_fault(rng: Random, innocent: bool) -> FaultFacts:
    """What lets the clutch go: a break in the sensor's circuit, or the brake switch as often."""
    culprit = "another_input" if innocent else rng.choice(("sensor_open", "connector", "harness"))
    dry_per_h = DEMO_KICK_OUTS_PER_EXPOSED_H * DEMO_BURSTS_PER_KICK_OUT / DEMO_WET_FACTOR
    return FaultFacts(
        culprit=culprit,
        bursts_per_exposed_h=dry_per_h * (1.06 if innocent else 1.0),
        regularity=3.0,
        drive_shape=20.0,
        wet_factor=DEMO_WET_FACTOR,
        extra_dropouts_mean=0.6,
        gap_s=1.2,
        length_median_s=0.32,
        length_sigma=0.8,
        length_span_s=(0.02, 2.0),
        after_min=10.0,
        above_c=60.0,
    )


def _demo_glitches(innocent: bool) -> InnocentFacts:
    """The sensor's glitches that are too short to matter: only where it is innocent."""
    return InnocentFacts(
        dropouts_per_h=8.0 if innocent else 0.0,
        length_median_s=0.03,
        length_sigma=0.4,
        length_span_s=(0.02, 0.06),
        shared_cause=0.3 if innocent else 0.0,
        above_c=75.0,
    )


PLACE_NAME = {"sensor_open": "sensor", "connector": "connector", "harness": "harness"}


def world_of_case(case: Case, seed: int) -> World:
    """The same case played sample by sample: one road without stops, so that rates compare.

    Tell it ``tap``, ``drive`` and ``foot_still`` as the order says, and put loads on its input.
    """
    from .generator import module_facts

    scenario, truth = case.memory.scenario, case.truth
    facts = WorldFacts(
        module=module_facts(scenario, truth.filter_s, truth.confirm_s, truth.delay_s),
        fault=_fault_of(scenario, truth),
        innocent=_glitches_of(scenario, truth),
        driver=_habits_of(scenario),
        trip=TripHabits(all_road=True),
        sensor=Thermistor(drift_c=truth.drift_c),
        weather_c=15.0,
        wipe_sensor_plug=scenario.tap.wipe_sensor_connector,
        wipe_other=scenario.tap.wipe_other,
        asleep_h=scenario.tap.asleep_h,
    )
    return World(facts, seed)


def _fault_of(scenario: Scenario, truth: Truth) -> FaultFacts:
    brake, dropout = scenario.brake_input, scenario.dropout
    return FaultFacts(
        culprit=truth.culprit,
        bursts_per_exposed_h=truth.bursts_per_exposed_h,
        drive_shape=scenario.rate.drive_shape,
        extra_dropouts_mean=scenario.burst.extra_dropouts_mean,
        gap_s=scenario.burst.gap_s,
        length_median_s=dropout.length_median_s,
        length_sigma=dropout.length_sigma,
        length_span_s=(0.005, 60.0),
        residual_ohm=dropout.residual_ohm,
        towards_hot=dropout.towards_hot,
        pulse_median_s=brake.fault_pulse_median_s,
        pulse_sigma=brake.pulse_sigma,
        only_when_slowing=brake.only_when_slowing,
        after_min=scenario.exposure.after_min,
        above_c=scenario.exposure.above_c,
        drift_swing_c=15.0,
    )


def _glitches_of(scenario: Scenario, truth: Truth) -> InnocentFacts:
    innocent = scenario.innocent
    return InnocentFacts(
        dropouts_per_h=innocent.dropouts_per_h,
        length_median_s=innocent.length_median_s,
        length_span_s=(0.002, innocent.length_max_s),
        shared_cause=innocent.shared_cause,
        place=PLACE_NAME[truth.innocent_place],
    )


def _habits_of(scenario: Scenario) -> DriverHabits:
    table, brake = scenario.driver, scenario.brake_input
    return DriverHabits(
        own_downshifts_per_h=table.own_downshifts_per_h,
        brake_share=table.brake_share,
        still_foot_factor=table.still_foot_factor,
        unnoticed_share=table.unnoticed_share,
        button_hit=table.button_hit,
        button_own=table.button_own,
        button_imagined_per_h=table.button_imagined_per_h,
        pulse_median_s=brake.driver_pulse_median_s,
        pulse_sigma=brake.pulse_sigma,
        disobeys=table.disobeys,
    )
