"""The method without instruments, and the score of a conclusion."""

from dataclasses import replace

import numpy as np
import pytest

from locum.virtual.generator import draw_case
from locum.virtual.hand import by_hand
from locum.virtual.hidden import CONCLUSIONS, CULPRITS
from locum.virtual.scenario import Scenario
from locum.virtual.score import OUTCOMES, outcome


@pytest.mark.parametrize(
    ("culprit", "hours", "parts"),
    # figures of the plan for the open example; "nothing" depends on details and is left out
    [
        ("sensor_open", 0.4, 1.0),
        ("sensor_drift", 0.4, 1.0),
        ("harness", 6, 2.0),
        ("connector", 9, 1.7),
        ("ground", 19, 5.0),
        ("another_input", 10, 3.0),
        ("hydraulic", 15, 4.0),
    ],
)
def test_hand_method_costs_what_was_planned(culprit, hours, parts):
    rng = np.random.default_rng(1)
    results = [by_hand(draw_case(Scenario(), rng, culprit), rng) for _ in range(300)]
    assert np.mean([r.hours for r in results]) == pytest.approx(hours, rel=0.25)
    assert np.mean([r.parts for r in results]) == pytest.approx(parts, abs=0.35)


def test_hand_method_rarely_has_the_first_part_right_and_never_cures_nothing():
    rng = np.random.default_rng(2)
    results = [(c, by_hand(draw_case(Scenario(), rng, c), rng)) for c in CULPRITS * 40]
    assert np.mean([r.first_right for _, r in results]) == pytest.approx(0.25, abs=0.01)
    assert not any(r.solved for c, r in results if c == "nothing")
    assert all(r.wrong_parts == r.parts for c, r in results if c == "nothing")
    assert all(r.wrong_parts <= r.parts for _, r in results)


def test_hand_method_leaves_the_case_as_it_was():
    rng = np.random.default_rng(3)
    case = draw_case(Scenario(), rng, "connector")
    by_hand(case, rng)
    assert case.hours == 0
    assert case.memory.asleep_h == 0


def guilty(*parts):
    case = draw_case(Scenario(), np.random.default_rng(1), parts[0])
    case.truth = replace(case.truth, guilty=frozenset(parts))
    return case


@pytest.mark.parametrize(
    ("parts", "conclusion", "expected"),
    [
        (("sensor_open",), "sensor_side", "right"),
        (("sensor_open",), "sensor_circuit", "undecided"),
        (("sensor_open",), "circuit_not_reproduced_after_tap", "undecided"),
        (("sensor_open",), "connector", "blamed_wrongly"),
        (("sensor_open",), "not_sensor_circuit", "wrongly_cleared"),
        (("sensor_open",), "normal", "wrongly_cleared"),
        (("sensor_open",), "not_reproduced", "undecided"),
        (("sensor_open",), "undecided", "undecided"),
        (("connector",), "circuit_not_reproduced_after_tap", "right"),
        (("connector",), "sensor_slow_error", "blamed_wrongly"),
        (("harness",), "sensor_side", "blamed_wrongly"),
        (("ground",), "sensor_circuit", "blamed_wrongly"),
        (("ground",), "not_sensor_circuit", "undecided"),
        (("ground",), "driver_or_brake_input", "blamed_wrongly"),
        (("another_input",), "not_sensor_circuit", "right"),
        (("another_input",), "driver_or_brake_input", "undecided"),
        (("nothing",), "normal", "right"),
        (("nothing",), "undecided", "right"),
        (("nothing",), "not_sensor_circuit", "undecided"),
        (("nothing",), "driver_or_brake_input", "undecided"),
        (("nothing",), "outputs_or_hydraulics", "blamed_wrongly"),
        (("ground", "connector"), "connector", "right"),
        (("ground", "connector"), "module_or_ground", "right"),
        (("ground", "connector"), "not_sensor_circuit", "wrongly_cleared"),
        (("ground", "connector"), "harness", "blamed_wrongly"),
    ],
)
def test_score_of_a_conclusion(parts, conclusion, expected):
    assert outcome(Scenario(), guilty(*parts), conclusion) == expected


def test_every_conclusion_scores_for_every_culprit():
    for culprit in CULPRITS:
        seen = {outcome(Scenario(), guilty(culprit), c) for c in CONCLUSIONS}
        assert seen <= set(OUTCOMES)
        assert "right" in seen
        assert "blamed_wrongly" in seen
    with pytest.raises(ValueError, match="unknown conclusion"):
        outcome(Scenario(), guilty("ground"), "gremlins")
