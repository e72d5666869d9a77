"""A published rule of refusal, played through the virtual vehicle by a stand-in.

Source: Suzuki Jimny service information, "No gear shift to 4th gear": 4th is refused while the
fluid is colder than 20 degC (or the coolant colder than 50 degC), allowed at 20 and 50.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from locum.virtual.scenarios import make_demo_world
from locum.virtual.sensor import table_ohm
from locum.virtual.world import LINE_CLUTCH, Load, World


def world_with_rule(refuse_below_c: float) -> World:
    facts = make_demo_world(5).truth.facts
    module = replace(facts.module, refuse_below_c=refuse_below_c, hysteresis_c=0.02)
    quiet_driver = replace(facts.driver, own_downshifts_per_h=0.0)
    fault = replace(facts.fault, culprit="nothing")
    return World(replace(facts, module=module, driver=quiet_driver, fault=fault), 5)


def allowed_at(world: World, celsius: float) -> bool:
    """Whether the top state was commanded at the end of five minutes of steady driving."""
    world.tell("engine_start", cold_c=60.0)
    world.tell("drive")
    told = Load("standin", table_ohm(celsius))
    for second in range(420):
        world.step(second * 1000, (second + 1) * 1000, told)
    return bool(world.levels[LINE_CLUTCH])


@pytest.mark.parametrize("threshold_c", [20.0, 50.0])
def test_top_is_refused_just_below_the_published_threshold_and_allowed_at_it(threshold_c):
    assert not allowed_at(world_with_rule(threshold_c), threshold_c - 0.1)
    assert allowed_at(world_with_rule(threshold_c), threshold_c + 0.1)
