"""Numbers as people read them."""

import pytest

from locum.report import numbers
from locum.report.words import plain_words


@pytest.mark.parametrize(
    ("function", "value", "text"),
    [
        (numbers.hours, 0.4, "24 min"),
        (numbers.hours, 17.52, "17.5 h"),
        (numbers.hours, 1234.0, "1234 h"),
        (numbers.hours, None, "no limit"),
        (numbers.long_hours, 1.0, "1 hour"),
        (numbers.long_hours, 17.5, "17.5 hours"),
        (numbers.long_hours, 1 / 60, "1 minute"),
        (numbers.digits, 0, "0"),
        (numbers.digits, 0.1714, "0.171"),
        (numbers.digits, 70.44, "70.4"),
        (numbers.digits, 12345.6, "12\u202f346"),
        (numbers.digits, -2.5, "-2.50"),
        (numbers.digits, 0.00012, "1.20e-04"),
        (numbers.digits, None, "–"),
        (numbers.short, 1004.0, "1004"),
        (numbers.p_value, 0.0079, "p = 0.0079"),
        (numbers.p_value, 3e-7, "p < 0.0001"),
        (numbers.p_value, 0.5, "p = 0.50"),
        (numbers.p_value, None, ""),
        (numbers.percent, 0.95, "95 %"),
        (numbers.percent, 0.999, "99.9 %"),
        (numbers.clock, 3725.4, "1:02:05"),
        (numbers.day, "2026-10-19T16:05:00.000Z", "2026-10-19"),
        (numbers.day, "soon", "soon"),
        (numbers.minute, "2026-10-19T16:05:00.000Z", "2026-10-19 16:05"),
        (numbers.minute, "soon", "soon"),
        (numbers.times, 1, "once"),
        (numbers.times, 3, "3 times"),
    ],
)
def test_numbers(function, value, text):
    assert function(value) == text


def test_open_limits():
    assert numbers.span(None, None) == "0 to no limit"
    assert numbers.span(1.2578, 7.4634) == "1.26 to 7.46"


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("exact.fisher", "Fisher's exact test"),
        ("quiet.some_new_test", "some new test"),
        ("injected_over_blank", "injected over blank"),
        ("Fisher", "Fisher"),
        ("5 of 5, p. 3", "5 of 5, p. 3"),
    ],
)
def test_no_code_names_are_printed(code, words):
    assert plain_words(code) == words
