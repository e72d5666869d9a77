"""Event-level cases: what each culprit shows, and where."""

from dataclasses import replace

import numpy as np
import pytest

from locum.virtual.case import Injection, Order, Stretch
from locum.virtual.generator import bench, draw_case, drive
from locum.virtual.hidden import CULPRITS
from locum.virtual.scenario import (
    BrakeInput,
    Burst,
    Channels,
    DriverTable,
    Exposure,
    Innocent,
    ModuleTable,
    Rate,
    Scenario,
)

OFTEN = replace(
    Scenario(),
    rate=Rate(20.0, 1e6, 1e6, 3),
    exposure=Exposure(10.0, 60.0),
    burst=Burst(0.0, 4.0),
    driver=replace(DriverTable(), own_downshifts_per_h=0.0, button_imagined_per_h=0.0),
)
"""Many bursts, no own acts: only the fault speaks."""
H = 3.0


def one(culprit, scenario=OFTEN, seed=1):
    return draw_case(scenario, np.random.default_rng(seed), culprit)


def masked(connected="follow", tap="module", hours=H):
    return Order(hours, tap, (Stretch(hours * 3600, connected),))


def test_the_same_seed_draws_and_drives_the_same():
    logs = []
    for _ in range(2):
        rng = np.random.default_rng(7)
        case = draw_case(Scenario(), rng)
        logs.append((case.truth, drive(case, Order(2.0, "sensor"), rng).release_t_s.tolist()))
    assert logs[0] == logs[1]


@pytest.mark.parametrize("culprit", CULPRITS)
def test_what_each_culprit_shows_real_and_masked(culprit):
    rng = np.random.default_rng(3)
    scenario = replace(OFTEN, tap=replace(OFTEN.tap, wipe_other=0.0, wipe_sensor_connector=0.0))
    real = drive(one(culprit, scenario), masked("real"), rng)
    follow = drive(one(culprit, scenario), masked("follow"), rng)
    hold = drive(one(culprit, scenario), masked("hold"), rng)
    counts = [len(log.release_t_s) for log in (real, follow, hold)]
    if culprit in ("sensor_open", "connector", "harness"):
        assert counts[0] > 15
        assert counts[1:] == [0, 0]
        assert len(real.node_glitches) > 20
        assert len(real.ohm_glitches) == 0
        assert len(follow.node_glitches) == 0
        assert len(follow.ohm_glitches) > 20
    elif culprit == "sensor_drift":
        assert min(counts[:2]) > 15, "a followed drift goes on"
        assert counts[2] == 0
        assert len(real.node_glitches) == len(follow.ohm_glitches) == 0
        assert real.temperature_c[-1] < 35, "it reads cold with a warm engine"
    elif culprit in ("ground", "another_input"):
        assert min(counts) > 15
        assert len(real.node_glitches) == 0
        assert (len(hold.offset_t_s) > 20) == (culprit == "ground")
        assert (len(hold.brake_t_s) > 20) == (culprit == "another_input")
    elif culprit == "hydraulic":
        assert counts == [0, 0, 0]
        assert len(hold.mark_t_s) > 20
    else:
        assert min(counts) > 15
        assert len(hold.throttle_t_s) > 15
        assert len(hold.mark_t_s) > 15


def test_harness_speaks_on_the_node_under_the_mask_at_the_sensor_plug():
    rng = np.random.default_rng(5)
    log = drive(one("harness"), masked("follow", "sensor"), rng)
    assert len(log.node_glitches) > 20
    assert not log.node_glitches.towards_cold.any()
    assert len(log.ohm_glitches) == 0
    assert len(log.release_t_s) > 15


def test_nothing_is_seen_of_the_circuit_without_a_tap():
    log = drive(one("sensor_open"), Order(2.0), np.random.default_rng(1))
    assert log.node_glitches is log.ohm_glitches is log.temperature_c is log.offset_t_s is None
    assert len(log.release_t_s) > 5
    assert log.stretches == ((0.0, 7200.0, "real", "normal"),)


def test_unwired_channels_are_none():
    bare = Channels(False, False, False, False, False, False, False)
    log = drive(one("ground", replace(OFTEN, channels=bare)), masked(), np.random.default_rng(1))
    assert log.node_glitches is log.ohm_glitches is log.brake_t_s is log.throttle_t_s is None
    assert log.release_t_s is log.mark_t_s is log.offset_t_s is None


def test_faults_come_only_within_exposure():
    log = drive(one("sensor_open"), Order(3.0, "module"), np.random.default_rng(2))
    assert log.exposed_from_s == pytest.approx(600)
    assert log.node_glitches.t_s.min() >= 600
    early = drive(one("sensor_open"), Order(0.15, "module"), np.random.default_rng(2))
    assert early.exposed_from_s == np.inf
    assert len(early.release_t_s) == 0


def test_release_follows_each_answered_dropout_by_the_modules_delay():
    case = one("sensor_open")
    log = drive(case, Order(3.0, "module"), np.random.default_rng(4))
    long = log.node_glitches.length_s >= case.truth.shortest_answered_s
    begins = log.node_glitches.t_s[long]
    assert 0 < np.sum(~long) < len(long)
    for t in log.release_t_s:
        lag = (t - begins)[(t - begins) > 0].min()
        assert lag < case.truth.delay_s * 1.1 + 1.0
        assert lag > case.truth.delay_s * 0.9
    assert np.all(log.release_regain_s >= 4.0)


def test_injections_answer_by_length_and_need_a_stand_in():
    case = one("hydraulic", replace(OFTEN, driver=replace(OFTEN.driver, button_hit=0.0)))
    shortest, delay = case.truth.shortest_answered_s, case.truth.delay_s
    plan = tuple(
        Injection(t, length)
        for t, length in [(100, shortest * 0.9), (200, shortest * 1.1), (300, 1.0), (400, 30.0)]
    )
    order = Order(0.5, "sensor", (Stretch(350, "hold"),), plan)
    log = drive(case, order, np.random.default_rng(1))
    assert log.injected_t_s.tolist() == [100, 200, 300], "the last one falls into a real stretch"
    assert len(log.release_t_s) == 2
    assert log.release_t_s[0] == pytest.approx(200 + delay, abs=0.11 * delay + 1)
    short = drive(case, Order(0.5, "sensor", (Stretch(1800, "hold"),), (Injection(600, 5, 0.0),)),
                  np.random.default_rng(1))  # fmt: skip
    assert len(short.release_t_s) == 1, "a short reads far too hot and is refused as well"


def test_chatter_below_the_filter_is_seen_and_does_nothing():
    chatty = replace(OFTEN, innocent=Innocent(300.0, 0.03, 0.06, 0.0), rate=Rate(0.0))
    case = one("another_input", chatty)
    assert case.truth.guilty == {"another_input"}
    log = drive(case, Order(2.0, "module"), np.random.default_rng(1))
    assert 500 < len(log.node_glitches) < 700
    assert len(log.release_t_s) == 0


def test_chatter_beyond_the_filter_makes_two_guilty():
    quick = replace(ModuleTable(), filter_s=0.02, confirm_s=0.02, case_sigma=0.0)
    chatty = replace(OFTEN, innocent=Innocent(30.0, 0.08, 0.2, 0.0), module=quick)
    case = one("ground", chatty)
    assert case.truth.guilty == {"ground", case.truth.innocent_place}


def test_own_acts_are_thinned_by_a_still_foot():
    busy = replace(Scenario(), rate=Rate(0.0), driver=replace(DriverTable(), disobeys=0.0))
    rng, counts = np.random.default_rng(1), {"normal": 0, "still": 0}
    for foot in counts:
        for _ in range(20):
            order = Order(2.0, "none", (Stretch(7200, "real", foot),))
            counts[foot] += len(drive(one("ground", busy), order, rng).release_t_s)
    # the example asks for 12 own downshifts an hour and a tenth of them with the foot still
    assert counts["normal"] == pytest.approx(480, rel=0.15)
    assert counts["still"] == pytest.approx(48, rel=0.5)


def test_a_forgetful_driver_moves_the_foot_although_the_log_says_still():
    loose = replace(Scenario(), rate=Rate(0.0), driver=replace(DriverTable(), disobeys=1.0))
    order = Order(4.0, "none", (Stretch(14400, "real", "still"),))
    log = drive(one("ground", loose), order, np.random.default_rng(1))
    assert log.stretches[0][3] == "still"
    assert len(log.release_t_s) > 25


def test_a_bad_switch_pulses_short_and_a_foot_long():
    scenario = replace(OFTEN, driver=DriverTable(), brake_input=BrakeInput())
    log = drive(one("another_input", scenario), Order(8.0, "none"), np.random.default_rng(1))
    short = log.brake_length_s < 0.55
    assert np.median(log.brake_length_s[short]) == pytest.approx(0.15, rel=0.25)
    assert np.median(log.brake_length_s[~short]) == pytest.approx(2.0, rel=0.25)
    assert np.all(np.diff(log.brake_t_s) >= 0)


def test_cutting_in_at_the_plug_may_put_a_connector_to_sleep():
    rng, quiet = np.random.default_rng(1), 0
    for _ in range(200):
        case = draw_case(OFTEN, rng, "connector")
        drive(case, Order(0.1, "sensor"), rng)
        quiet += case.memory.asleep_h > 0
    # the example says 0.6; +-4 standard deviations of 200 throws
    assert 0.46 < quiet / 200 < 0.74
    case = draw_case(OFTEN, rng, "connector")
    drive(case, Order(0.1, "sensor"), rng)
    case.memory.asleep_h = 1.0
    log = drive(case, Order(3.0, "sensor"), rng)
    assert log.node_glitches.t_s.min() > 3600 > log.exposed_from_s


def test_the_account_is_inflated_by_the_worst_spell():
    rng, told, true = np.random.default_rng(1), [], []
    scenario = replace(Scenario(), rate=Rate(1.5, 1e6, 2.0, 5))
    for _ in range(300):
        case = draw_case(scenario, rng, "hydraulic")
        told.append(case.account.felt_per_exposed_h)
        true.append(case.truth.bursts_per_exposed_h)
    assert np.mean(told) > 1.3 * np.mean(true)


def test_rates_are_uneven_by_gamma_over_cases_and_drives():
    rng = np.random.default_rng(1)
    scenario = replace(Scenario(), rate=Rate(1.5, 2.0, 2.0, 3))
    rates = [draw_case(scenario, rng, "ground").truth.bursts_per_exposed_h for _ in range(3000)]
    assert np.mean(rates) == pytest.approx(1.5, rel=0.08)
    assert np.var(rates) / np.mean(rates) ** 2 == pytest.approx(0.5, rel=0.2)
    case, counts = one("hydraulic", replace(OFTEN, rate=Rate(5.0, 1e6, 1.0, 3))), []
    case.memory.scenario = replace(case.memory.scenario, driver=OFTEN.driver)
    hit = replace(OFTEN.driver, button_hit=1.0)
    case.memory.scenario = replace(case.memory.scenario, driver=hit)
    for _ in range(400):
        counts.append(len(drive(case, Order(2.0), rng).mark_t_s))
    mean = 5.0 * (2 - 600 / 3600)
    assert np.mean(counts) == pytest.approx(mean, rel=0.15)
    # Poisson with a gamma rate of shape 1: variance = mean + mean^2
    assert np.var(counts) == pytest.approx(mean + mean**2, rel=0.3)


def test_bench_finds_most_drifts_and_repeats_itself():
    rng = np.random.default_rng(1)
    found = []
    for _ in range(300):
        case = draw_case(Scenario(), rng, "sensor_drift")
        first = bench(case, "hot_ohms", rng).suspicious
        assert bench(case, "hot_ohms", rng).suspicious == first
        found.append(first)
    assert np.mean(found) == pytest.approx(0.9, abs=0.07)
    assert case.hours == pytest.approx(1.0)
    with pytest.raises(ValueError, match="known: hot_ohms"):
        bench(case, "kick_tyres", rng)


def test_stretches_cover_the_drive_and_hours_add_up():
    case = one("ground")
    order = Order(1.0, "module", (Stretch(1000, "follow"), Stretch(600, "real", "still")))
    log = drive(case, order, np.random.default_rng(1))
    assert [s[:2] for s in log.stretches] == [(0, 1000), (1000, 1600), (1600, 3600)]
    assert [s[2] for s in log.stretches] == ["follow", "real", "real"]
    assert case.hours == 1.0
    assert case.drives == 1
    with pytest.raises(ValueError, match="at most 24 h"):
        drive(case, Order(0.0), np.random.default_rng(1))


def test_a_policy_is_shown_nothing_hidden():
    shown = repr(one("ground"))
    assert "ground" not in shown
    assert "truth" not in shown
