"""The method without instruments, on the same cases: guess, fit, drive, comeback.

Common practice turned into rules. One guess after another: sensor; connector and harness; brake
switch; solenoids; module. Each costs a short test drive of 0.35 h. At the first guess a fixed
resistor stands for the sensor: a kick-out on that drive clears the sensor (no part is fitted),
quiet condemns it; such a drive is mostly shorter than the fault needs to show. The other guesses
are fitted at once. Then the customer drives until two felt events (a comeback, and the next guess)
or 40 quiet hours. Hours are the test drives and the customer's hours to each comeback; a quiet end
costs no more.

Fitting the sensor or the connector touches the sensor's plug, which may put a bad connector to
sleep; the other parts touch their own places.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .case import Case
from .drawing import Memory, felt_share
from .hidden import DROPOUT_CULPRITS

TEST_DRIVE_H = 0.35
QUIET_H = 40.0
COMEBACK = 2
GUESSES = (
    ("sensor", frozenset({"sensor_open", "sensor_drift"})),
    ("connector and harness", frozenset({"connector", "harness"})),
    ("brake switch", frozenset({"another_input"})),
    ("solenoids", frozenset({"hydraulic"})),
    ("module", frozenset({"ground"})),
)
"""In order: what is fitted, and the faults that it ends."""
MASKED_BY_RESISTOR = frozenset({"sensor_open", "sensor_drift", "connector"})


@dataclass(frozen=True)
class HandResult:
    """How a case went by hand."""

    hours: float
    parts: int
    wrong_parts: int
    first_right: bool
    """The first part fitted was the guilty one."""
    solved: bool
    """The fault was really gone when the customer was content."""


def by_hand(case: Case, rng: np.random.Generator) -> HandResult:
    """Works a case to its end by guesses in the usual order; the case itself is not changed."""
    return _Hand(case, rng).work()


class _Hand:
    def __init__(self, case: Case, rng: np.random.Generator) -> None:
        memory: Memory = case.memory
        self.scenario = memory.scenario
        self.truth = case.truth
        self.rng = rng
        self.asleep_h = 0.0
        self.present = set(self.truth.guilty)
        """Guilty parts not yet put right."""
        share = felt_share(self.scenario, self.truth.culprit, self.truth.shortest_answered_s)
        self.felt_per_exposed_h = self.truth.bursts_per_exposed_h * share

    def work(self) -> HandResult:
        hours, parts, wrong, first_right = 0.0, 0, 0, False
        for number, (_, ends) in enumerate(GUESSES):
            hours += TEST_DRIVE_H
            if number == 0 and self._kicks_out_on_test():
                continue
            parts += 1
            right = bool(ends & self.present)
            wrong += not right
            first_right |= right and parts == 1
            self.present -= ends
            self._touch(number)
            comeback_h = self._customer_h()
            if comeback_h is None:
                break
            hours += comeback_h
        return HandResult(hours, parts, wrong, first_right, not self.present)

    def _touch(self, number: int) -> None:
        table = self.scenario.tap
        if not self.present & (DROPOUT_CULPRITS | {"ground"}):
            return
        direct = number == 0 and "connector" in self.present
        chance = table.wipe_sensor_connector if direct else table.wipe_other
        if self.rng.random() < chance:
            self.asleep_h = self.rng.exponential(table.asleep_h)

    def _felt(self, hours: float, present: set[str]) -> int:
        """Kick-outs felt in one drive of the fault and its innocent company."""
        scenario, truth, rng = self.scenario, self.truth, self.rng
        begin_h = max(scenario.exposure.after_min / 60, self.asleep_h)
        shape = scenario.rate.drive_shape
        rate = 0.0
        if truth.culprit in present:
            rate = self.felt_per_exposed_h * rng.gamma(shape) / shape
        self.asleep_h = max(0.0, self.asleep_h - hours)
        felt = int(rng.poisson(rate * max(0.0, hours - begin_h)))
        if truth.innocent_place in present and truth.innocent_place != truth.culprit:
            felt += int(rng.poisson(scenario.innocent.dropouts_per_h * hours))
        return felt

    def _kicks_out_on_test(self) -> bool:
        """With a fixed resistor for a sensor."""
        return self._felt(TEST_DRIVE_H, self.present - MASKED_BY_RESISTOR) > 0

    def _customer_h(self) -> float | None:
        """Hours until the second felt event, or None if the customer stays content."""
        drive_h = self.scenario.trial.drive_h
        driven, felt = 0.0, 0
        while driven < QUIET_H and self.present:
            driven += drive_h
            felt += self._felt(drive_h, self.present)
            if felt >= COMEBACK:
                return driven
        return None
