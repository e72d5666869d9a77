"""The event level's view of a module: how long a disturbance must last, and when it is confirmed.

Closed form for one pull-up. A warm node at v0 is pulled towards v1 by a disturbance of length d
through a filter of time constant tau; the comparator turns at ``edge`` and turns back at ``back``,
nearer to v0. The time beyond is

    (d - t_up) + tau ln( x (1 - exp(-d/tau)) / b ),   t_up = tau ln( x/(x - a) ),
    x = |v1 - v0|, a = |edge - v0|, b = |back - v0|

and the module answers if that reaches its confirm time. Two pull-ups: the full module is asked.
``tests/virtual`` holds both against each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .module_facts import ModuleFacts
from .response import WARM_C, answers, shortest_answered_s
from .sensor import table_ohm

WARM_OHM = table_ohm(WARM_C)


@dataclass(frozen=True)
class Answer:
    """What a module does about one kind of disturbance of a warm sensor line."""

    shortest_s: float
    """Shortest length that is answered; inf: none is."""
    confirmed_s: float
    """From its begin to the moment at which the module is sure (longer ones: the same)."""


NO_ANSWER = Answer(math.inf, math.inf)


def shortest_length_s(x: float, a: float, b: float, tau: float, confirm_s: float) -> Answer:
    """Solve the formula above for d; volts, seconds."""
    if x <= a:
        return NO_ANSWER
    if tau <= 0:
        return Answer(confirm_s, confirm_s)
    rise = tau * math.log(x / (x - a))
    low, high = rise, rise + confirm_s
    if tau * math.log(x * (1 - math.exp(-low / tau)) / b) >= confirm_s:
        return Answer(rise, rise + confirm_s)
    for _ in range(30):
        d = 0.5 * (low + high)
        if d - rise + tau * math.log(x * (1 - math.exp(-d / tau)) / b) >= confirm_s:
            high = d
        else:
            low = d
    return Answer(high, rise + confirm_s)


def answer_to(facts: ModuleFacts, ohm: float) -> Answer:
    """Answer of a module whose whole input becomes ``ohm`` for a while. [ohm]"""
    if len(facts.pull_up_ohm) > 1:
        return _asked(facts, ohm)
    volts, h = facts.volts_at, facts.hysteresis_c
    pull_up = facts.source(0)[1]
    v0 = facts.open_v * WARM_OHM / (WARM_OHM + pull_up)
    v1 = facts.open_v * ohm / (ohm + pull_up)
    if v1 > v0:
        edge, back = volts(facts.refuse_below_c, 0), volts(facts.refuse_below_c + h, 0)
    else:
        edge, back = volts(facts.refuse_above_c, 0), volts(facts.refuse_above_c - h, 0)
    return shortest_length_s(
        abs(v1 - v0), abs(edge - v0), abs(back - v0), facts.filter_s, facts.confirm_s
    )


def _asked(facts: ModuleFacts, ohm: float) -> Answer:
    """By trying the module itself, to 1 ms."""
    if not answers(facts, 10.0, ohm, WARM_OHM):
        return NO_ANSWER
    shortest_s = shortest_answered_s(facts, max(0.0, ohm - WARM_OHM)) if ohm > WARM_OHM else None
    if shortest_s is None:
        low_ms, high_ms = 0, 10_000
        while high_ms - low_ms > 1:
            middle = (low_ms + high_ms) // 2
            if answers(facts, middle / 1000, ohm, WARM_OHM):
                high_ms = middle
            else:
                low_ms = middle
        shortest_s = high_ms / 1000
    return Answer(shortest_s, max(shortest_s, facts.confirm_s))
