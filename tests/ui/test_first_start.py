"""The guided first start: what it understands, refuses and assumes; and the screens that ask it."""

from __future__ import annotations

import pytest

from locum.errors import LocumError, Misuse, Refused
from locum.jobs.desk import Setup
from locum.jobs.first_start import FirstStart, is_wanted
from locum.jobs.quantities import reading_of
from locum.jobs.reach import circuit_of, refused_circuit
from locum.settings import Settings
from ui_helpers import screen_text, until

pytestmark = pytest.mark.timeout(240)


@pytest.mark.parametrize(
    ("typed", "celsius", "ohm"),
    [
        ("20C=2.5k", 20, 2500), ("2,5k at 20C", 20, 2500), ("20 2500", 20, 2500),
        ("68F 2500", 20, 2500), ("180 F 300 ohm", 82.222, 300), ("4k7 @ 10", 10, 4700),
        ("25 C: 2.2 kohm", 25, 2200), ("-10 9k", -10, 9000), ("82C 1,5k", 82, 1500),
    ],
)  # fmt: skip
def test_a_reading_is_understood_however_people_write_it(typed, celsius, ohm):
    assert reading_of(typed) == pytest.approx((celsius, ohm), abs=1e-3)


def test_bare_numbers_are_in_the_unit_of_the_settings():
    assert reading_of("68 2500", "fahrenheit") == pytest.approx((20, 2500))


@pytest.mark.parametrize("typed", ["", "300", "20C=30C", "1k 2k", "20C=2.5k 3", "warm"])
def test_what_is_no_reading_is_refused_with_examples(typed):
    with pytest.raises(Refused, match="20C=2.5k"):
        reading_of(typed)


def test_both_faults_of_a_reading_are_told_at_once():
    with pytest.raises(Refused) as refused:
        reading_of("900C 0ohm")
    assert len(refused.value.remarks) == 2


@pytest.mark.parametrize(
    "words", ["airbag", "HV battery temperature", "brake pad temp", "power steering fluid", "ABS",
              "throttle body", "immobilizer", "hybrid coolant", "seat belt"],
)  # fmt: skip
def test_a_forbidden_circuit_is_refused_here_and_the_reason_given(words):
    start = FirstStart(Setup())
    with pytest.raises(Refused, match="leave|Leave") as refused:
        start.answer(words)
    assert len(refused.value.remarks[0].found) > 15  # a reason, not a name alone
    assert start.number == 1, "the question is still open"


@pytest.mark.parametrize("words", ["absorber air", "coolant", "breaker cabinet air", "fuel"])
def test_a_word_that_only_contains_a_forbidden_one_is_none(words):
    assert refused_circuit(words) is None


def test_first_letters_name_a_circuit_and_two_that_fit_are_asked_about():
    assert circuit_of("tr").sheet == "transmission"
    assert circuit_of("evap").sheet == "cabin"
    with pytest.raises(LocumError, match="coolant or cabin"):
        circuit_of("c")
    with pytest.raises(Misuse, match="reading"):
        circuit_of("20C=2.5k")


def answered(*lines: str, **setup) -> FirstStart:
    start = FirstStart(Setup(**setup))
    for line in lines:
        start.answer(line)
    return start


def test_five_answers_make_a_setup_and_a_value_to_hold():
    start = answered("coolant", "20C=2.5k", "82C=300", "", "y")
    assert start.done
    assert start.hold == "82C"
    assert len(start.answers) == 5
    assert start.setup().sensor == "20C=2500ohm,82C=300ohm"
    assert start.setup().circuit == "coolant"


def test_without_a_reading_there_are_four_and_the_usual_sensor():
    start = answered("coolant", "", "82C", "yes")
    assert start.done
    assert len(start.answers) == 4
    assert start.setup().sensor is None


def test_the_pull_up_is_assumed_for_currents_and_it_says_so():
    start = answered("coolant", "20C=2.5k", "82C=300")
    said = start.answer("82C")
    assert "300 ohm" in said
    assert "1 kohm" in said
    assert "assumed" in said
    assert "3.8 mA" in said  # 5 V over 1,300 ohm, by hand


def test_a_bare_number_too_hot_for_degrees_means_ohms():
    start = answered("coolant", "20C=2.5k", "82C=300")
    assert "300 ohm" in start.answer("300")


def test_readings_that_cannot_be_one_sensor_are_refused_all_at_once():
    start = answered("coolant", "20C=2.5k")
    with pytest.raises(Refused) as refused:
        start.answer("22C=2.5k")
    assert {r.code for r in refused.value.remarks} == {"too_near", "same_ohms"}
    assert "300" in start.answer("82C=300"), "the question stays open"


def test_a_value_out_of_the_boards_reach_is_refused_before_anything_is_connected():
    start = answered("coolant", "20C=2.5k", "82C=300")
    with pytest.raises(Refused, match="66 ohm"):
        start.answer("190C")


def test_what_enter_alone_means_is_told_in_the_unit_of_the_settings():
    start = FirstStart(Setup(), "fahrenheit")
    for line in ("coolant", "68 2500", "176 310"):
        start.answer(line)
    assert start.question.enter == "176.0 F"
    start.answer("")
    assert start.hold_words == "176.0 F"
    alone = answered("coolant", "20C=2.5k", "")
    assert "what the sensor says" in alone.question.enter
    alone.answer("")
    assert alone.hold == "now"


def test_an_answer_can_be_taken_back_with_what_followed_from_it():
    start = answered("coolant", "", "82C")
    assert (start.number, start.total) == (4, 4)
    assert start.back()
    assert start.back()
    assert start.question.name == "cold"
    assert (start.number, start.total) == (2, 5), "the hot reading is asked for again"
    start.answer("20C=2.5k")
    assert start.question.name == "hot"


def test_only_a_plain_yes_confirms_the_wiring():
    start = answered("coolant", "20C=2.5k", "82C=300", "82C")
    for line in ("", "n", "maybe"):
        with pytest.raises(LocumError):
            start.answer(line)
    assert not start.done


def test_listening_is_offered_in_the_first_question_and_ends_it():
    start = FirstStart(Setup())
    assert "listen" in start.question.help
    start.answer("listen")
    assert start.done
    assert start.listening


def test_it_is_wanted_by_an_empty_casebook_alone(tmp_path):
    book = str(tmp_path / "book.sqlite")
    assert is_wanted(Setup(casebook=book), Settings())
    assert not is_wanted(Setup(casebook=book, sensor="coolant_2k5"), Settings())
    from locum.casebook.store import Store

    with Store.open(book) as store:
        store.new_case({"title": "one"})
    assert not is_wanted(Setup(casebook=book), Settings())


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_from_an_empty_casebook_to_a_warm_value_held(desk_app, size):
    async with desk_app(size, speed=20.0, told={}) as (app, pilot):
        await until(pilot, lambda: "Which circuit?" in screen_text(app))
        assert "virtual" in screen_text(app)
        keys = 0
        for line in ("airbag", "", "20C=2,5k", "80C=310", ""):
            await pilot.press(*line, "enter")
            keys += len(line) + 1 if line != "airbag" else 0
            if line == "airbag":
                await until(pilot, lambda: "can fire or silence an airbag" in
                            " ".join(screen_text(app).split()))  # fmt: skip
        await until(pilot, lambda: "LINE" in screen_text(app) and "SENS" in screen_text(app))
        assert "2.50 kohm at 20.0 C" in screen_text(app)
        await pilot.press("y", "enter")
        keys += 2
        assert keys <= 25, f"{keys} keys from the first question to a value held"
        await until(pilot, lambda: app.desk.snapshot().glance.source == "stand_in", 20)
        await until(pilot, lambda: abs((app.desk.snapshot().glance.told_c or 0) - 80) < 1, 30)
        assert app.desk.snapshot().case_id is None, "no case is needed"


async def test_it_can_be_reached_later_and_left_again(desk_app):
    async with desk_app() as (app, pilot):
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Drive"))
        await pilot.press("g")
        await until(pilot, lambda: "Which circuit?" in screen_text(app))
        await pilot.press("escape", "2")
        await until(pilot, lambda: screen_text(app).lstrip().startswith("Drive"))
