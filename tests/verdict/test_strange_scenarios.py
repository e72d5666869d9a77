"""Scenario files at the ends of what the reader lets pass are worked to an end, and blame nobody rashly."""

from __future__ import annotations

import pytest

from locum.errors import Refused
from locum.jobs.trial import run_cases, run_trial
from locum.virtual.hidden import CULPRITS
from locum.virtual.scenario_file import parse_scenario

NO_WIRES = "[channels]\n" + "".join(
    f"{name} = false\n"
    for name in ("node", "ohmmeter_under_mask", "throttle", "brake", "return_offset", "converter", "button")
)  # fmt: skip
STRANGE = {
    "nothing given": "",
    "hardly ever": "rate = {bursts_per_exposed_h = 0.2}",
    "all the time": "rate = {bursts_per_exposed_h = 60.0, case_shape = 0.7, drive_shape = 0.5}",
    "no fault at all": "rate = {bursts_per_exposed_h = 0.0}",
    "very slow module": "[module]\nfilter_s = 2.0\nconfirm_s = 4.0",
    "module without a filter": "[module]\nfilter_s = 0.0\nconfirm_s = 0.0\ncase_sigma = 0.0",
    "nothing wired": NO_WIRES,
    "never warm enough": "exposure = {after_min = 25.0, above_c = 200.0}",
    "drives shorter than the warm-up": "trial = {budget_h = 10.0, drive_h = 0.3}",
    "no time": "trial = {budget_h = 0.1, drive_h = 2.0}",
    "only towards hot": "dropout = {towards_hot = 1.0, residual_ohm = 0.0}",
    "chatter without end": "innocent = {dropouts_per_h = 5000.0, length_median_s = 0.09}",
    "chatter that is answered": "innocent = {dropouts_per_h = 20.0, length_median_s = 0.9, length_max_s = 9.0}",
    "a driver who never acts": "[driver]\nown_downshifts_per_h = 0.0\nbutton_imagined_per_h = 0.0",
    "two stages": "[module]\npull_up_ohm = [10000.0, 909.0]\nswitch_down_v = 1.2\nswitch_up_v = 4.0",
    "drives of four hours": "trial = {budget_h = 24.0, drive_h = 12.0}\nexposure = {after_min = 300.0}",
}  # fmt: skip


@pytest.mark.parametrize("name", STRANGE)
def test_every_culprit_is_worked_to_an_end(name):
    scenario = parse_scenario("schema = 1\n" + STRANGE[name] + "\n", name)
    wrong = 0
    for number, culprit in enumerate(CULPRITS):
        for result in run_cases(scenario, 3, 40 + number, workers=1, culprit=culprit):
            assert result.hours <= scenario.trial.budget_h + 2.0, "within the time agreed"
            wrong += result.outcome in ("blamed_wrongly", "wrongly_cleared")
    assert wrong <= 1, f"{wrong} of 24 wrong"


def test_without_anything_wired_nobody_is_blamed():
    scenario = parse_scenario("schema = 1\n" + NO_WIRES, "no wires")
    said = {r.conclusion for r in run_cases(scenario, 16, 3, workers=1)}
    assert said <= {"undecided", "not_reproduced"}


def test_a_key_that_is_no_field_is_refused_with_its_line():
    with pytest.raises(Refused) as refused:
        run_trial("schema = 1\n[rate]\nbursts_per_exposed_hour = 1.0\n", cases=1)
    text = str(refused.value)
    assert "bursts_per_exposed_hour" in text
    assert "3" in text, "the line"
