"""The virtual vehicle behaves as vehicles do; sources and common practice beside each figure."""

from dataclasses import replace

import numpy as np
import pytest

from locum.virtual.culprits import FaultFacts, InnocentFacts
from locum.virtual.driver import DriverHabits
from locum.virtual.module_facts import ModuleFacts
from locum.virtual.scenarios import make_demo_world
from locum.virtual.sensor import Thermistor, table_c, table_ohm
from locum.virtual.vehicle import TripHabits
from locum.virtual.world import LINE_BRAKE, LINE_FAN, Load, World, WorldFacts

VAN = ModuleFacts(refuse_below_c=52.0, refuse_above_c=118.0, hysteresis_c=6.0, delay_s=0.6)
NO_ACTS = DriverHabits(own_downshifts_per_h=0, button_imagined_per_h=0)
ROAD = TripHabits(all_road=True)


def quiet_world(**facts) -> World:
    """A world in which nothing goes wrong and the driver does nothing."""
    return World(replace(WorldFacts(module=VAN, driver=NO_ACTS, trip=ROAD), **facts), 1)


def warm_drive(run, world, tap="module"):
    """On the road, warm, clutch held."""
    world.tell("engine_start", cold_c=86.0)
    world.tell("tap", where=tap)
    world.tell("drive")
    run(world, 60)
    assert world.module.locked
    return world


@pytest.mark.parametrize(
    ("celsius", "ohm"),
    # Jeep Compass 2021 coolant sensor table as printed in service information
    [(-20, 15976), (20, 2501), (60, 575.7), (80, 308.6), (120, 105.4)],
)
def test_sensor_follows_its_published_table(celsius, ohm):
    assert table_ohm(celsius) == pytest.approx(ohm, rel=2e-3)
    assert table_c(table_ohm(celsius)) == pytest.approx(celsius, abs=1e-6)


def test_warm_up_takes_minutes_and_the_thermostat_holds_it(run):
    world = quiet_world(weather_c=15.0)
    world.tell("engine_start")
    world.tell("drive")
    curve = np.array(run(world, 3000).true_c)
    reached_80 = int(np.argmax(curve > 80))
    assert 4 * 60 < reached_80 < 10 * 60  # common practice: 4-10 min to 80 degC
    late = curve[1500:]
    assert late.min() > 82  # a published thermostat opens at 80-84 degC
    assert late.max() < 96
    assert np.abs(np.diff(curve)).max() < 0.4  # published rationality limits: 0.15-0.4 K/s


def test_standing_starts_the_fan_and_the_fan_ends_it(run):
    world = quiet_world(weather_c=32.0)
    world.tell("engine_start", cold_c=90.0)
    record = run(world, 3600)
    fan = [level for _, line, level in record.edges if line == LINE_FAN]
    assert fan[:2] == [0, 1]  # active low: on, then off again
    assert max(record.true_c) < 106


def test_a_parked_van_is_cold_in_the_morning():
    world = quiet_world(weather_c=5.0)
    world.tell("engine_start", cold_c=88.0)
    world.tell("cool_down", hours=2.0)
    assert 20 < world.coolant.coolant_c < 60  # cools with a time constant of hours
    world.tell("cool_down", hours=12.0)
    assert world.coolant.coolant_c < 7


def test_node_is_the_divider_of_pull_up_and_sensor(run):
    world = warm_drive(run, quiet_world())
    record = run(world, 5)
    ohm = record.ohm()
    np.testing.assert_allclose(record.node(), 5.0 * ohm / (ohm + 1000), rtol=1e-4)
    assert table_c(float(ohm[-1])) == pytest.approx(world.coolant.sensor_c, abs=0.05)


@pytest.mark.parametrize(
    ("length_ms", "released"), [(20, False), (60, False), (150, True), (500, True)]
)
def test_an_open_by_the_board_provokes_only_beyond_the_filter(run, length_ms, released):
    world = warm_drive(run, quiet_world())
    run(world, 10, Load("standin", 260.0))
    first = run(world, length_ms / 1000, Load("open"))
    then = run(world, 8, Load("standin", 260.0))
    assert bool(first.lost() + then.lost()) == released
    if released:
        assert [cause for _, cause in world.truth.kick_outs] == ["stand_in"]


def test_changeovers_and_small_steps_do_not_provoke(run):
    world = warm_drive(run, quiet_world())
    losses = []
    ohm = float(run(world, 1).ohm()[-1])
    for _ in range(20):
        losses += run(world, 0.003, Load("both", ohm)).lost()
        for step in range(8):
            losses += run(world, 0.5, Load("standin", ohm * (1 + 0.01 * step))).lost()
        losses += run(world, 0.003, Load("both", ohm)).lost()
        losses += run(world, 5, Load()).lost()
    assert losses == []


def test_holding_cold_does_provoke_and_warm_again_recovers(run):
    world = warm_drive(run, quiet_world())
    assert run(world, 10, Load("standin", table_ohm(40.0))).lost()
    assert not world.module.locked
    run(world, 10, Load("standin", table_ohm(56.0)))
    assert not world.module.locked, "between the two thresholds nothing changes"
    run(world, 10, Load("standin", table_ohm(85.0)))
    assert world.module.locked


def test_a_long_open_runs_the_fan_then_takes_the_substitute(run):
    world = warm_drive(run, quiet_world())
    record = run(world, 12, Load("open"))
    assert record.lost()
    assert any(line == LINE_FAN and level == 0 for _, line, level in record.edges)
    assert world.module.locked, "the substitute of 80 degC allows the clutch again"


def test_two_stage_pull_up_jumps_and_is_no_fault(run):
    two = replace(VAN, pull_up_ohm=(10000.0, 909.0909), switch_down_v=1.2, switch_up_v=4.05)
    world = quiet_world(module=two)
    world.tell("engine_start", cold_c=10.0)
    world.tell("drive")
    record = run(world, 900)
    jumps = np.diff(record.node())
    # 10 k to 909 ohm at 1.20 V: 3158 ohm gives 3.88 V, a jump of 2.7 V (worked example)
    assert jumps.max() == pytest.approx(2.68, abs=0.05)
    assert np.sum(np.abs(jumps) > 0.5) == 1
    assert world.truth.kick_outs == []


def harness_break(**facts) -> World:
    fault = FaultFacts(
        "harness", 60.0, drive_shape=1e9, after_min=0, above_c=50, length_median_s=1.0
    )
    return quiet_world(fault=fault, **facts)


def test_harness_is_seen_on_the_node_at_the_sensor_and_on_the_ohmmeter_at_the_module(run):
    held = Load("standin", 250.0)
    at_sensor = warm_drive(run, harness_break(), tap="sensor")
    record = run(at_sensor, 600, held)
    assert record.node().min() < 0.01, "the pull-up is cut off from the board's tap"
    assert record.ohm().max() < 1000
    assert "harness" in {cause for _, cause in at_sensor.truth.kick_outs}

    at_module = warm_drive(run, harness_break(), tap="module")
    known = len(at_module.truth.kick_outs)
    record = run(at_module, 600, held)
    assert np.ptp(record.node()) == 0
    assert record.ohm().max() > 1e6
    assert at_module.truth.kick_outs[known:] == []


def test_repair_ends_the_fault_but_not_the_driver(run):
    world = warm_drive(run, harness_break(driver=DriverHabits(own_downshifts_per_h=60)))
    before = len(world.truth.glitches)
    run(world, 600)
    assert len(world.truth.glitches) > before
    world.tell("repair")
    run(world, 60)
    known, acts = len(world.truth.glitches), len(world.truth.kick_outs)
    run(world, 1200)
    assert len(world.truth.glitches) == known
    later = {cause for _, cause in world.truth.kick_outs[acts:]}
    assert later == {"driver"}


def test_foot_still_quietens_the_driver(run):
    habits = DriverHabits(own_downshifts_per_h=60, still_foot_factor=0.1, disobeys=0)
    world = warm_drive(run, quiet_world(driver=habits))
    normal = len(run(world, 3600).lost())
    world.tell("foot_still", on=True)
    still = len(run(world, 3600).lost())
    assert normal > 35
    assert 0 < still < normal / 4


def test_a_drifted_sensor_reads_low_only_when_hot():
    drifted = Thermistor(drift_c=60.0)
    assert table_c(drifted.ohm(90.0)) == pytest.approx(30.0, abs=1e-6)
    assert table_c(drifted.ohm(0.0)) == pytest.approx(0.0, abs=1e-6)


def test_a_sensor_exchanged_in_the_repair_reads_right_again(run):
    world = quiet_world(
        sensor=Thermistor(drift_c=40.0), fault=FaultFacts("sensor_drift", 1.0), weather_c=20.0
    )
    world.tell("engine_start", cold_c=85.0)
    assert table_c(float(run(world, 1).ohm()[-1])) == pytest.approx(45, abs=1)
    world.tell("repair")
    assert table_c(float(run(world, 1).ohm()[-1])) == pytest.approx(85, abs=1)


def test_bad_ground_shows_on_the_return_wire_and_not_on_the_node(run):
    fault = FaultFacts("ground", 60.0, drive_shape=1e9, after_min=0, above_c=50)
    world = warm_drive(run, quiet_world(fault=fault))
    record = run(world, 900, Load("standin", 250.0))
    assert max(volts for _, volts in record.offsets) > 0.15
    assert np.ptp(record.node()) == 0
    assert "ground" in {cause for _, cause in world.truth.kick_outs}


def test_hydraulics_are_felt_and_not_commanded(run):
    fault = FaultFacts("hydraulic", 30.0, drive_shape=1e9, after_min=0, above_c=50)
    world = warm_drive(run, quiet_world(fault=fault))
    record = run(world, 3600)
    assert record.lost() == []
    assert len(record.marks) > 8


def test_innocent_world_is_its_brake_switch(run):
    causes, short = [], []
    for seed in range(3):
        world = make_demo_world(seed, innocent=True)
        world.tell("engine_start", cold_c=80.0)
        world.tell("tap", where="module")
        world.tell("drive", wet=True)
        record = run(world, 5400)
        causes += [cause for _, cause in world.truth.kick_outs]
        short += [length for _, length, _, _ in world.truth.glitches]
        brakes = [t for t, line, level in record.edges if line == LINE_BRAKE and level == 1]
        assert len(brakes) > 5
    assert causes.count("another_input") >= 5
    assert not {"innocent", "connector", "sensor_open", "harness"} & set(causes)
    assert len(short) > 15
    assert max(short) <= 0.06


def test_demo_van_has_about_three_kick_outs_an_exposed_hour(run):
    faults, exposed_h = 0, 0.0
    for seed in range(8):
        world = make_demo_world(seed)
        world.tell("engine_start", cold_c=80.0)
        world.tell("drive", wet=True)
        run(world, 5400, piece_ms=2000)
        faults += sum(cause not in ("driver", "trip") for _, cause in world.truth.kick_outs)
        exposed_h += world.truth.exposed_ms / 3.6e6
    assert 2.3 < faults / exposed_h < 4.3


def test_innocent_glitches_can_be_shaken_loose_with_the_fault(run):
    fault = FaultFacts("another_input", 60.0, drive_shape=1e9, after_min=0, above_c=50)
    world = warm_drive(run, quiet_world(fault=fault, innocent=InnocentFacts(shared_cause=1.0)))
    record = run(world, 1800)
    pulses = np.array([t for t, line, level in record.edges if line == LINE_BRAKE and level])
    glitches = np.array([t for t, *_ in world.truth.glitches])
    near = [np.min(np.abs(pulses - t)) <= 300 for t in glitches]
    assert len(near) > 10
    assert all(near)


def test_a_step_elsewhere_in_time_is_refused(run):
    world = quiet_world()
    run(world, 1)
    with pytest.raises(ValueError, match="world is at 1000 ms"):
        world.step(0, 500, Load())
    with pytest.raises(ValueError, match="unknown event"):
        world.tell("fly")
