import pytest

from locum.errors import Refused
from locum.sheets.values import (
    events_and_exposure,
    is_resistance,
    readings,
    resistance_ohm,
    temperature_c,
)


@pytest.mark.parametrize(
    ("text", "celsius"),
    [("82", 82), ("82C", 82), ("82 °C", 82), ("180F", 82.2222), ("-40", -40), ("-40F", -40),
     ("355.15K", 82), ("21,5", 21.5)],
)  # fmt: skip
def test_temperatures_as_people_write_them(text, celsius):
    assert temperature_c(text) == pytest.approx(celsius, abs=1e-3)


def test_a_bare_number_is_in_the_workshops_unit():
    assert temperature_c("212", "fahrenheit") == pytest.approx(100)


@pytest.mark.parametrize(
    ("text", "ohm"),
    [("300", 300), ("1.5k", 1500), ("1,5k", 1500), ("4k7", 4700), ("320ohm", 320), ("2M2", 2.2e6),
     ("320 Ohm", 320), ("47R", 47), ("1.2 kohm", 1200)],
)  # fmt: skip
def test_resistances_as_people_write_them(text, ohm):
    assert resistance_ohm(text) == pytest.approx(ohm)


@pytest.mark.parametrize("text", ["", "warm", "-5", "0", "1.5q", "1..5k"])
def test_what_is_no_resistance_is_refused_with_examples(text):
    with pytest.raises(Refused, match=r"1\.5k|above zero"):
        resistance_ohm(text)


@pytest.mark.parametrize(
    ("text", "yes"),
    [("320ohm", True), ("1.5k", True), ("4k7", True), ("82C", False), ("82", False)],
)
def test_ohms_are_told_from_degrees(text, yes):
    assert is_resistance(text) is yes


def test_readings_with_decimal_commas_and_mixed_units():
    assert readings("20C=1,5k,82C=300") == [(20, 1500), (82, 300)]
    assert readings("68F=2.5k") == [(pytest.approx(20), 2500)]


def test_every_bad_reading_is_named_at_once():
    with pytest.raises(Refused) as caught:
        readings("20C=oops,82C=300,90C=-4")
    assert [r.where for r in caught.value.remarks] == ["reading '20C=oops'", "reading '90C=-4'"]


def test_events_over_exposure():
    assert events_and_exposure("3/10h") == (3, 10, "hours")
    assert events_and_exposure("3/10") == (3, 10, "hours")
    assert events_and_exposure("0/90min") == (0, 1.5, "hours")
    assert events_and_exposure("4/12drives") == (4, 12, "drives")
    with pytest.raises(Refused, match="no more with events"):
        events_and_exposure("5/4drives")


@pytest.mark.parametrize("text", ["1e999", "2e9", "1e-999", "2000M"])
def test_a_resistance_beyond_measure_is_refused(text):
    with pytest.raises(Refused):
        resistance_ohm(text)
