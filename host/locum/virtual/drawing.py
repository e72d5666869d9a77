"""Draws a case in secret: culprit, rates, module, and what the customer says of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .answer import WARM_OHM, Answer, answer_to
from .case import Account, Case, Known
from .hidden import CULPRITS, DROPOUT_CULPRITS, Truth
from .module_facts import ModuleFacts
from .response import WARM_C
from .scenario import Scenario

OPEN_V = 5.0
RELOCK_S = 4.0
DELAY_S = (0.1, 10.0)
"""Module's delay from confirmed to released: log-uniform over cases."""
DELAY_SPREAD = 0.1
INNOCENT_SIGMA = 0.5
SPELL_H = 6.0
"""Exposed hours of one spell the customer remembers."""
GUILTY_SHARE = 0.1


@dataclass
class Memory:
    """What a case remembers between drives."""

    scenario: Scenario
    facts: ModuleFacts
    open_answer: Answer
    tap: str = "none"
    asleep_h: float = 0.0
    """Hours of driving for which a wiped contact stays quiet."""
    bench: dict[str, bool] = field(default_factory=dict)
    answers: dict[float, Answer] = field(default_factory=dict)
    world: Any = None
    """The full world, for a case that is played sample by sample."""


def module_facts(scenario: Scenario, filter_s: float, confirm_s: float, delay_s: float):
    """The module of a case, for the full world and for the answers."""
    table = scenario.module
    return ModuleFacts(
        open_v=OPEN_V,
        pull_up_ohm=table.pull_up_ohm,
        switch_down_v=table.switch_down_v,
        switch_up_v=table.switch_up_v,
        filter_s=filter_s,
        confirm_s=confirm_s,
        range_confirm_s=1000.0,  # no substitute: a long open refuses for as long as it lasts
        refuse_below_c=table.refuse_top_below_c,
        refuse_above_c=table.refuse_top_above_c,
        delay_s=delay_s,
        delay_spread=DELAY_SPREAD,
        relock_s=RELOCK_S,
    )


def draw_case(scenario: Scenario, rng: np.random.Generator, culprit: str | None = None) -> Case:
    """One secret case of a scenario; ``culprit`` None: drawn by its mix."""
    if culprit is None:
        weights = np.array([scenario.mix[name] for name in CULPRITS])
        culprit = CULPRITS[int(rng.choice(len(CULPRITS), p=weights / weights.sum()))]
    table, rate = scenario.module, scenario.rate
    spread = np.exp(rng.normal(0, table.case_sigma, 2)).tolist()
    filter_s, confirm_s = table.filter_s * spread[0], table.confirm_s * spread[1]
    delay_s = math.exp(rng.uniform(math.log(DELAY_S[0]), math.log(DELAY_S[1])))
    facts = module_facts(scenario, filter_s, confirm_s, delay_s)
    answer = answer_to(facts, WARM_OHM + scenario.dropout.residual_ohm)
    own_rate = rate.bursts_per_exposed_h * rng.gamma(rate.case_shape) / rate.case_shape
    place = ("sensor_open", "connector", "harness")[int(rng.integers(3))]
    drift_c = 0.0
    if culprit == "sensor_drift":
        drift_c = WARM_C - table.refuse_top_below_c - facts.hysteresis_c - rng.uniform(3.0, 7.0)
    guilty = guilty_parts(scenario, culprit, own_rate, place, answer.shortest_s)
    truth = Truth(
        culprit, guilty, own_rate, place, filter_s, confirm_s, delay_s, answer.shortest_s, drift_c
    )
    channels = {name: getattr(scenario.channels, name) for name in _CHANNELS}
    known = Known(
        scenario.trial.budget_h,
        scenario.trial.drive_h,
        scenario.exposure.after_min,
        scenario.exposure.above_c,
        table.pull_up_ohm,
        OPEN_V,
        channels,
    )
    account = draw_account(
        scenario, own_rate * felt_share(scenario, culprit, answer.shortest_s), rng
    )
    memory = Memory(scenario, facts, answer)
    return Case(known, account, truth, memory=memory)


_CHANNELS = (
    "node",
    "ohmmeter_under_mask",
    "throttle",
    "brake",
    "return_offset",
    "converter",
    "button",
)


def _longer_than(length_s: float, median_s: float, sigma: float) -> float:
    """Chance that a lognormal length is longer."""
    if length_s <= 0:
        return 1.0
    if math.isinf(length_s):
        return 0.0
    if sigma <= 0:
        return float(median_s >= length_s)
    return 0.5 * math.erfc(math.log(length_s / median_s) / (sigma * math.sqrt(2)))


def felt_share(scenario: Scenario, culprit: str, shortest_s: float) -> float:
    """Chance that a burst of the culprit gives a kick-out at all."""
    if culprit not in DROPOUT_CULPRITS and culprit != "ground":
        return 1.0
    one = _longer_than(shortest_s, scenario.dropout.length_median_s, scenario.dropout.length_sigma)
    more = scenario.burst.extra_dropouts_mean
    return one + (1 - one) * (1 - 1 / (1 + more * one))  # a geometric number of further tries


def guilty_parts(
    scenario: Scenario, culprit: str, own_rate: float, place: str, shortest_s: float
) -> frozenset[str]:
    """Every part that causes at least a tenth of the kick-outs."""
    innocent = scenario.innocent
    one = _longer_than(shortest_s, innocent.length_median_s, INNOCENT_SIGMA)
    beyond = _longer_than(innocent.length_max_s, innocent.length_median_s, INNOCENT_SIGMA)
    # lengths above the greatest are drawn down to it
    crossing = 0.0 if innocent.length_max_s < shortest_s else max(one, beyond)
    rates: dict[str, float] = {}
    rates[culprit] = own_rate * felt_share(scenario, culprit, shortest_s)
    other = (innocent.dropouts_per_h + innocent.shared_cause * own_rate) * crossing
    rates[place] = rates.get(place, 0.0) + other
    whole = sum(rates.values())
    if whole <= 0:
        return frozenset({culprit})
    return frozenset(part for part, rate in rates.items() if rate >= GUILTY_SHARE * whole)


def draw_account(scenario: Scenario, rate_per_h: float, rng: np.random.Generator) -> Account:
    """The worst of n spells, told by a customer who has felt it at least once."""
    n, shape = scenario.rate.worst_of_spells, scenario.rate.drive_shape
    exposed_h = max(0.1, scenario.trial.drive_h - scenario.exposure.after_min / 60)
    drives = max(1, round(SPELL_H / exposed_h))
    uneven = rng.gamma(shape * drives, 1 / (shape * drives), n)
    worst = int(rng.poisson(rate_per_h * drives * exposed_h * uneven).max())
    return Account(max(1, worst), drives * exposed_h, n)
