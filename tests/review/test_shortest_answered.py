"""The search for the shortest glitch answered, on modules with a known answer."""

from __future__ import annotations

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from locum.review.findings import Injection
from locum.review.shortest import GRID_MS, ShortestAnswered, delays_ms, from_injections


def searched(answers, ratio: float = 1.25) -> ShortestAnswered:
    search = ShortestAnswered(ratio)
    for _ in range(200):
        length = search.next_ms
        if length is None:
            return search
        search.answer(length, answers(length))
    raise AssertionError("the search does not end")


@given(st.integers(11, 9999))
@settings(deadline=None)
def test_the_bracket_closes_around_the_truth(truth_ms):
    search = searched(lambda length: length >= truth_ms)
    low, high = search.bracket_ms
    assert high is not None
    assert low < truth_ms <= high
    assert high <= 1.25 * low


def test_a_module_that_answers_nothing_or_everything():
    assert searched(lambda length: False).bracket_ms == (GRID_MS[0], None)
    assert searched(lambda length: True).bracket_ms == (0, GRID_MS[-1])


def test_a_single_chance_release_does_not_make_a_length_answered():
    chance = {50: True}
    search = searched(lambda length: length >= 300 or chance.pop(length, False))
    low, high = search.bracket_ms
    assert low < 300 <= (high or 0)


def test_lapses_of_the_module_do_not_stop_the_search():
    rng = random.Random(7)
    search = searched(lambda length: length >= 120 and rng.random() < 0.9)
    assert search.bracket_ms[1] is not None
    assert 100 <= search.bracket_ms[1] <= 200


def test_injections_of_a_drive_give_bracket_and_delays():
    rows = [(20, None), (50, None), (100, 700), (200, 650), (100, 800)]
    given_ = [Injection(1000 * n, ms, "open", answer) for n, (ms, answer) in enumerate(rows)]
    assert from_injections(given_) == (50, 100)
    assert delays_ms(given_) == (650, 800)
    assert delays_ms([Injection(0, 20, "open")]) is None
