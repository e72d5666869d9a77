"""Scenario files: the open example's figures, and every fault at once."""

from pathlib import Path

import numpy as np
import pytest

from locum.errors import FileTrouble, Refused
from locum.virtual.generator import draw_case
from locum.virtual.hidden import CULPRITS
from locum.virtual.scenario_file import Scenario, parse_scenario, read_scenario

FOLDER = Path(__file__).parent.parent / "campaign" / "scenarios"
FILES = sorted(FOLDER.glob("*.toml"))


def test_the_open_example_is_what_a_file_leaves_out():
    example = read_scenario(FOLDER / "open_example.toml")
    assert example.title == "open example"
    assert example == Scenario(title=example.title, note=example.note)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_shipped_scenarios_read_and_draw(path):
    scenario = read_scenario(path)
    rng = np.random.default_rng(1)
    for culprit in CULPRITS:
        case = draw_case(scenario, rng, culprit)
        assert case.truth.culprit == culprit
        assert case.account.felt >= 1
        assert case.known.budget_h == scenario.trial.budget_h


def test_there_are_three_scenarios_beside_the_example():
    assert len(FILES) >= 4


def test_every_fault_is_told_at_once_with_its_line():
    text = """schema = 1
title = "bad"
rate = { bursts_per_exposed_h = "many", case_shap = 2.0 }
[module]
pull_up_ohm = [10000.0, 909.0]
filter_s = -1
[channels]
nod = true
throttle = 1
[mix]
sensor_open = 1
gremlin = 3
[accept]
ground = ["the_gods"]
"""
    with pytest.raises(Refused) as caught:
        parse_scenario(text, "bad.toml")
    told = str(caught.value)
    assert len(caught.value.remarks) == 8
    for words in (
        "'case_shap'. Did you mean case_shape?",
        "'many'",
        "switch_down_v < switch_up_v",
        "line 6",
        "'nod'. Did you mean node?",
        "write true or false",
        "'gremlin'",
        "'the_gods'",
    ):
        assert words.lower() in told.lower(), told


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("schema = 2\n", "newer locum"),
        ("title = 'x'\n", "Add the line schema = 1"),
        ("schema = 1\n[mix]\nground = 0\n", "at least one culprit above zero"),
        ("schema = 1\nweather = 'wet'\n", "'weather'"),
        ("schema = 1\n[module]\nrefuse_top_below_c = 120\n", "under 80"),
        ("schema = 1\n[innocent]\nlength_median_s = 0.2\n", "not above length_max_s"),
        ("schema = 1\n[module]\npull_up_ohm = [1, 2, 3]\n", "one or two values"),
        ("schema = \n", "TOML"),
    ],
)
def test_single_faults(text, words):
    with pytest.raises(Refused, match=words):
        parse_scenario(text)


def test_an_absent_file_is_file_trouble(tmp_path):
    with pytest.raises(FileTrouble, match=r"nowhere\.toml"):
        read_scenario(tmp_path / "nowhere.toml")


def test_a_mix_names_what_it_draws():
    scenario = parse_scenario("schema = 1\n[mix]\nground = 1\nharness = 3\n")
    rng = np.random.default_rng(1)
    drawn = [draw_case(scenario, rng).truth.culprit for _ in range(400)]
    assert set(drawn) == {"ground", "harness"}
    assert drawn.count("harness") == pytest.approx(300, abs=40)
