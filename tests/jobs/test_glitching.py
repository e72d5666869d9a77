"""Glitches given to the module: made and captured ones, blanks between, nothing that trips by count."""

from __future__ import annotations

import random

import pytest

from locum.casebook.store import Store
from locum.jobs.provoking import trials
from locum.jobs.shapes import open_shape
from locum.jobs.stored_record import chunks_of
from locum.review.chunk import MOVE_FOLLOW, MOVE_OPEN, MOVE_THROUGH

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van",
       "--board", "virtual")  # fmt: skip
STEP = """# an added 3 kohm for 400 ms, quiet at 250 ohm
time_s,ohms,contact
0.000,250.00,through
5.019,250.00,through
5.020,3250.00,through
5.419,3250.00,through
5.420,250.00,through
10.420,250.00,through
"""
OPEN = STEP.replace("3250.00,through", "250.00,open")


@pytest.fixture
def profile(tmp_path):
    def write(text: str, name: str = "captured.csv") -> str:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


def review_of(book: str, drive: str) -> dict:
    with Store.open(book) as store:
        return store.reviews(drive)[-1].result


def moves_of(book: str, drive: str) -> list[tuple]:
    with Store.open(book) as store:
        return [row for chunk in chunks_of(store, drive) for row in chunk.moves.tolist()]


def test_a_captured_step_is_put_onto_the_present_value_and_following_goes_on(locum, book, profile):
    """3 kohm more than the sensor has now, whatever it had when it was captured."""
    ran = locum("glitch", "--profile", profile(STEP), "--count", "2", *VAN, "--casebook", book)
    assert ran.code == 0, ran.talk
    assert (ran.json["planned"], ran.json["given"], ran.json["blanks"]) == (2, 2, 2)
    given = [i for i in review_of(book, ran.json["drive"])["injections"] if i["kind"] == "step"]
    assert len(given) == 2
    for injection in given:
        assert injection["length_ms"] == pytest.approx(400, abs=20)
        assert injection["ohm"] == pytest.approx(3000 + 390, rel=0.1)
        assert injection["answered_ms"] is not None
    kinds = [kind for _, kind, _ in moves_of(book, ran.json["drive"])]
    assert kinds.count(MOVE_FOLLOW) >= 3, "following must go on after each"


def test_a_captured_open_is_given_by_the_contact_with_its_length(locum, book, profile):
    ran = locum("glitch", "--profile", profile(OPEN), "--count", "2", *VAN, "--casebook", book)
    assert ran.code == 0, ran.talk
    moves = moves_of(book, ran.json["drive"])
    opened = [t for t, kind, _ in moves if kind == MOVE_OPEN]
    closed = [t for t, kind, _ in moves if kind == MOVE_THROUGH]
    assert len(opened) == 2
    for begin in opened:
        assert min(t for t in closed if t > begin) - begin == pytest.approx(400, abs=12)


def test_the_next_comes_only_once_the_state_has_been_held_again(locum, book):
    ran = locum("glitch", "--ms", "400", "--count", "3", "--every", "2", *VAN, "--casebook", book)
    result = review_of(book, ran.json["drive"])
    released = [r["t_ms"] for r in result["releases"]]
    regained = [r["regained_ms"] for r in result["releases"] if r["regained_ms"]]
    for injection in result["injections"]:
        before = [t for t in released if t < injection["t_ms"]]
        if before:
            back = [t for t in regained if before[-1] < t <= injection["t_ms"]]
            assert back, "given while the state was lost"
            assert injection["t_ms"] - back[-1] >= 4900


def test_what_a_module_counts_as_erratic_is_refused_unless_asked_for(locum, book):
    ran = locum("glitch", "--ms", "20", "--every", "1", "--count", "2", *VAN, "--casebook", book)
    assert (ran.code, ran.json["refusals"][0]["code"]) == (1, "plausibility_count")
    with Store.open(book) as store:
        assert store.drives()[-1].stretches[-1].connected == "real"
    asked = locum("glitch", "--ms", "20", "--every", "1", "--count", "1", "--fast", *VAN,
                  "--casebook", book)  # fmt: skip
    assert asked.code == 0
    assert "plausibility_count" in {w["code"] for w in asked.json["warnings"]}
    assert "P0118" in asked.json["codes_possible"]


def test_codes_that_may_be_set_stand_at_hand_back(locum, book):
    case = locum("case", "new", "Kicks out", *VAN[:6], "--casebook", book).json["id"]
    short = locum("glitch", "--ms", "200", "--count", "1", "--case", case, "--board", "virtual",
                  "--casebook", book)  # fmt: skip
    assert short.json["codes_possible"] == []
    assert locum("case", "hand-back", case, "--casebook", book).json["codes_possible"] == []
    long = locum("glitch", "--ms", "800", "--count", "1", "--case", case, "--board", "virtual",
                 "--casebook", book)  # fmt: skip
    assert "P0118" in long.json["codes_possible"]
    kept = locum("case", "hand-back", case, "--casebook", book).json["codes_possible"]
    assert kept == sorted(long.json["codes_possible"])


@pytest.mark.parametrize("verb", ["open", "short"])
def test_codes_of_a_single_open_or_short_stand_at_hand_back_too(locum, book, verb):
    case = locum("case", "new", "Kicks out", *VAN[:6], "--casebook", book).json["id"]
    for ms, there in (("200", False), ("900", True)):
        locum(verb, "--ms", ms, "--case", case, "--board", "virtual", "--casebook", book)
        told = locum("case", "hand-back", case, "--casebook", book).json["codes_possible"]
        assert ("P0118" in told) is there


def test_profiles_that_hold_no_glitch_are_refused_in_words(locum, book, profile):
    flat = profile("time_s,ohms,contact\n0,250,through\n10,250,through\n", "flat.csv")
    for name in (flat, "recorded_warmup_idle_a"):
        ran = locum("glitch", "--profile", name, *VAN, "--casebook", book)
        assert (ran.code, ran.json["refusals"][0]["code"]) == (1, "no_glitch_profile"), name
    bad = locum("glitch", "--ms", "0", "--count", "0", "--every", "0", *VAN, "--casebook", book)
    assert bad.code == 2
    assert len(bad.json["refusals"]) == 3


def test_a_shape_goes_to_its_side_and_is_shifted_as_the_circuit_would(profile):
    """Series towards cold, parallel towards hot: 250 with 100 across it reads 71.4 ohm (by hand)."""
    cold = open_shape(profile(STEP))
    assert (cold.towards, cold.plain, cold.length_ms) == ("cold", False, 400)
    assert cold.now_ohm(400.0) == [pytest.approx(3400.0)]
    hot = open_shape(profile(STEP.replace("3250.00", "71.43"), "hot.csv"))
    assert hot.towards == "hot"
    assert hot.now_ohm(500.0)[0] == pytest.approx(500 * 100 / 600, rel=1e-3)
    assert open_shape(profile(OPEN, "open.csv")).plain


def test_trials_hold_each_kind_and_as_many_blanks_in_an_order_of_their_own():
    row = trials([100, 300], 4, random.Random(1))
    assert sorted(x for x in row if x) == [100] * 4 + [300] * 4
    assert row.count(None) == 8
    assert row != trials([100, 300], 4, random.Random(2))
