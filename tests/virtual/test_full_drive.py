"""An order carried out sample by sample gives the log that the event level would give."""

from dataclasses import replace

import numpy as np
import pytest

from locum.virtual.case import Injection, Order, Stretch
from locum.virtual.full_drive import drive_in_full
from locum.virtual.generator import draw_case, drive
from locum.virtual.readings import LineReader, Pulses
from locum.virtual.scenario import Exposure, ModuleTable, Rate, Scenario, Tap

SCENARIO = replace(
    Scenario(),
    rate=Rate(12.0, 1e6, 1e6, 3),
    exposure=Exposure(10.0, 60.0),
    module=replace(ModuleTable(), case_sigma=0.2),
    tap=replace(Tap(), wipe_sensor_connector=0.0, wipe_other=0.0),
)
STRETCHES = (
    Stretch(1200),
    Stretch(600, "follow"),
    Stretch(600, "hold"),
    Stretch(600, "hold", "still"),
)
INJECTIONS = (
    *(Injection(1300.0 + 60 * i, 0.05 + 0.25 * (i % 3)) for i in range(8)),
    Injection(100.0, 1.0),
    Injection(2500.0, 1.0, 0.0),
)
EVENT_DRIVES, FULL_DRIVES = 100, 6


def columns(log) -> list[float]:
    return [
        len(log.release_t_s),
        len(log.brake_t_s),
        len(log.throttle_t_s),
        len(log.mark_t_s),
        len(log.node_glitches),
        np.sum(log.node_glitches.towards_cold),
        len(log.ohm_glitches),
        len(log.offset_t_s),
    ]


@pytest.mark.parametrize(
    ("culprit", "tap"),
    [
        ("sensor_open", "sensor"),
        ("harness", "sensor"),
        ("harness", "module"),
        ("sensor_drift", "module"),
        ("ground", "module"),
        ("another_input", "module"),
    ],
)
def test_a_mixed_order_reads_alike_at_both_fidelities(culprit, tap):
    rng = np.random.default_rng(3)
    case = draw_case(SCENARIO, rng, culprit)
    order = Order(1.0, tap, STRETCHES, INJECTIONS)
    events = [drive(case, order, rng) for _ in range(EVENT_DRIVES)]
    full = [drive_in_full(case, order, rng) for _ in range(FULL_DRIVES)]
    assert full[0].injected_t_s.tolist() == events[0].injected_t_s.tolist()
    assert full[0].stretches == events[0].stretches
    assert full[0].exposed_from_s == pytest.approx(events[0].exposed_from_s, abs=2)
    assert full[0].temperature_c[-1] == pytest.approx(events[0].temperature_c[-1], abs=4)
    a = np.array([columns(log) for log in events], float)
    b = np.array([columns(log) for log in full], float)
    # glitches that overlap are one for the reader of samples: a tenth fewer at most
    slack = 0.1 * a.mean(axis=0)
    error = np.sqrt(a.var(axis=0) * (1 / EVENT_DRIVES + 1 / FULL_DRIVES) + 0.1)
    z = np.maximum(0, np.abs(b.mean(axis=0) - a.mean(axis=0)) - slack) / error
    assert np.all(z < 4), (z.round(1), a.mean(axis=0), b.mean(axis=0))


def test_answers_to_injections_are_the_same_one_by_one():
    rng = np.random.default_rng(5)
    silent = replace(
        SCENARIO,
        rate=Rate(0.0),
        driver=replace(SCENARIO.driver, own_downshifts_per_h=0.0),
    )
    case = draw_case(silent, rng, "hydraulic")
    shortest = case.truth.shortest_answered_s
    plan = tuple(
        Injection(1000.0 + 60 * i, shortest * factor)
        for i, factor in enumerate((0.5, 0.9, 1.1, 2.0, 5.0))
    )
    order = Order(0.5, "sensor", (Stretch(1800.0, "hold"),), plan)
    event, full = drive(case, order, rng), drive_in_full(case, order, rng)
    assert len(event.release_t_s) == len(full.release_t_s) == 3
    gap = 0.25 * case.truth.delay_s + 0.1  # each release's delay varies by a tenth either way
    np.testing.assert_allclose(event.release_t_s, full.release_t_s, atol=gap)


def test_line_reader_joins_a_glitch_over_the_cut_of_two_pieces():
    reader = LineReader(lambda value, base: np.abs(value - base) > 0.3)
    values = np.full(2000, 1.0)
    values[900:1100] = 5.0
    values[1500:1510] = 0.0
    reader.read(0, values[:1000], True)
    reader.read(1000, values[1000:], True)
    found = reader.glitches()
    assert found.t_s.tolist() == [0.9, 1.5]
    np.testing.assert_allclose(found.length_s, [0.2, 0.01])
    assert found.towards_cold.tolist() == [True, False]


def test_pulses_still_on_end_with_the_drive():
    pulses = Pulses()
    for t, on in [(1.0, True), (1.5, False), (1.6, False), (9.0, True), (9.1, True)]:
        pulses.level(t, on)
    begins, lengths = pulses.done(10.0)
    assert begins.tolist() == [1.0, 9.0]
    assert lengths.tolist() == [0.5, 1.0]
