"""The event level and the full world tell the same story of the same case, within statistics.

One case, many event-level drives for mean and spread, a few full drives of another seed; the
difference of means in standard errors stays below 4 (one false alarm in some 16,000).
"""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from locum.virtual.answer import WARM_OHM, answer_to
from locum.virtual.case import Order, Stretch
from locum.virtual.generator import draw_case, drive, module_facts
from locum.virtual.hidden import CULPRITS
from locum.virtual.module_facts import ModuleFacts
from locum.virtual.response import answers, shortest_answered_s
from locum.virtual.scenario import Exposure, Innocent, ModuleTable, Rate, Scenario
from locum.virtual.scenarios import world_of_case
from locum.virtual.world import LINE_BRAKE, LINE_CLUTCH, Load

H, EVENT_DRIVES, FULL_DRIVES = 1.0, 120, 4
LIMIT = 4.0
SCENARIO = replace(
    Scenario(),
    rate=Rate(12.0, 1e6, 1e6, 3),
    exposure=Exposure(10.0, 60.0),
    module=replace(ModuleTable(), case_sigma=0.2),
    innocent=Innocent(20.0, 0.03, 0.1, 0.3),
    tap=replace(Scenario().tap, wipe_sensor_connector=0.0, wipe_other=0.0),
)
COLUMNS = ("releases", "brake pulses", "marks", "glitches")


def full_drive(case, seed: int, masked: bool):
    """Counts of one sample-by-sample drive, and the lengths of its glitches."""
    world = world_of_case(case, seed)
    world.tell("engine_start")
    world.tell("tap", where="module")
    world.tell("drive")
    load = Load("standin", 247.0) if masked else Load()
    counts = Counter()
    for t in range(0, round(H * 3.6e6), 2000):
        scene = world.step(t, t + 2000, load)
        for _, line, level in scene.edges:
            counts["releases"] += line == LINE_CLUTCH and level == 0
            counts["brake pulses"] += line == LINE_BRAKE and level == 1
        counts["marks"] += len(scene.marks)
    counts["glitches"] = len(world.truth.glitches)
    return [counts[c] for c in COLUMNS], [length for _, length, _, _ in world.truth.glitches]


def event_drive(case, rng, masked: bool):
    log = drive(case, Order(H, "module", (Stretch(H * 3600, "hold" if masked else "real"),)), rng)
    lengths = np.concatenate((log.node_glitches.length_s, log.ohm_glitches.length_s))
    row = [len(log.release_t_s), len(log.brake_t_s), len(log.mark_t_s), len(lengths)]
    return row, lengths.tolist()


@pytest.mark.parametrize("masked", [False, True], ids=["real", "masked"])
@pytest.mark.parametrize("culprit", CULPRITS)
def test_counts_and_lengths_agree(culprit, masked):
    rng = np.random.default_rng(CULPRITS.index(culprit) * 2 + masked)
    case = draw_case(SCENARIO, rng, culprit)
    events = [event_drive(case, rng, masked) for _ in range(EVENT_DRIVES)]
    full = [full_drive(case, 100 + seed, masked) for seed in range(FULL_DRIVES)]
    a = np.array([row for row, _ in events], float)
    b = np.array([row for row, _ in full], float)
    error = np.sqrt(a.var(axis=0) * (1 / EVENT_DRIVES + 1 / FULL_DRIVES) + 0.05)
    z = (b.mean(axis=0) - a.mean(axis=0)) / error
    assert np.all(np.abs(z) < LIMIT), dict(zip(COLUMNS, z.round(1), strict=True))
    assert a.sum() > 0
    here = np.sort(np.concatenate([lengths for _, lengths in events]))
    there = np.sort(np.concatenate([lengths for _, lengths in full]))
    # Kolmogorov: 1.95 / sqrt(n) is passed by one sample in a thousand
    share = np.searchsorted(here, there, side="right") / len(here)
    gap = np.max(np.abs(share - (np.arange(len(there)) + 0.5) / len(there)))
    assert gap < 1.95 / np.sqrt(len(there)) + 1 / len(there)


@pytest.mark.parametrize("pull_up", [(1000.0,), (2490.0,), (10000.0,)])
@pytest.mark.parametrize(("filter_s", "confirm_s"), [(0.05, 0.05), (0.12, 0.15), (0.4, 0.1)])
def test_closed_form_is_what_the_module_does(pull_up, filter_s, confirm_s):
    facts = ModuleFacts(pull_up_ohm=pull_up, filter_s=filter_s, confirm_s=confirm_s)
    for ohm in (WARM_OHM + 1e7, 0.3):
        answer = answer_to(facts, ohm)
        assert not answers(facts, answer.shortest_s - 0.003, ohm, WARM_OHM)
        assert answers(facts, answer.shortest_s + 0.003, ohm, WARM_OHM)
    assert answer_to(facts, WARM_OHM + 1e7).shortest_s == pytest.approx(
        shortest_answered_s(facts), abs=0.003
    )


def test_published_filter_example_bounds_the_shortest_open():
    # Worked example (transmission sensor, 8.1 kohm at 20 degC, 1 kohm): crossing 20 degC from 90 needs 1.60 tau.
    v0, v20 = 818.23 / 1818.23 * 5, 8012 / 9012 * 5
    from locum.virtual.answer import shortest_length_s

    answer = shortest_length_s(5 - v0, v20 - v0, v20 - v0, 1.0, 1e-9)
    assert answer.shortest_s == pytest.approx(1.6007, abs=2e-3)


def test_a_small_series_resistance_is_never_answered():
    facts = ModuleFacts()
    assert answer_to(facts, WARM_OHM + 500).shortest_s == np.inf
    assert not answers(facts, 5.0, WARM_OHM + 500, WARM_OHM)


def test_two_stage_module_answers_by_its_own_rules():
    table = replace(
        ModuleTable(), pull_up_ohm=(10000.0, 909.09), switch_down_v=1.2, switch_up_v=4.05
    )
    facts = module_facts(replace(Scenario(), module=table), 0.1, 0.2, 0.5)
    answer = answer_to(facts, WARM_OHM + 1e7)
    assert 0.02 < answer.shortest_s < 0.5
    assert not answers(facts, answer.shortest_s - 0.002, WARM_OHM + 1e7, WARM_OHM)
