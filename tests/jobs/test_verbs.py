"""The three main uses and their kin on the virtual board, by the command line."""

from __future__ import annotations

import pytest

from locum.casebook.store import Store

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")


def test_hold_from_two_meter_readings_and_no_sheet(locum, book):
    ran = locum("hold", "82C", "--sensor", "20C=2.5k,82C=300", "--minutes", "1", "--casebook", book)
    assert ran.code == 0
    assert ran.json["ended"] == "done"
    assert ran.json["steps"] > 10
    assert ran.json["worst_error_c"] <= 0.1
    assert "beta" in ran.talk + str(ran.json["warnings"])


def test_hold_with_one_reading_says_the_range_a_usual_beta_leaves(locum, book):
    ran = locum("hold", "now", "--sensor", "20C=2.5k", "--minutes", "1", "--casebook", book)
    assert ran.code == 0
    told = next(w for w in ran.json["warnings"] if w["code"] == "one_reading")
    assert "degC" in told["text"] or "K" in told["text"]


@pytest.mark.parametrize(
    "words",
    [
        ("hold", "320ohm", "--minutes", "1"),
        ("hold", "now", *VAN, "--minutes", "1"),
        ("sweep", "70", "75", *VAN, "--minutes", "2"),
        ("follow", *VAN, "--minutes", "1"),
        ("open", *VAN, "--ms", "300"),
        ("short", *VAN),
        ("listen", *VAN, "--minutes", "1"),
    ],
)
def test_every_verb_ends_with_the_real_sensor_and_a_record(locum, book, words):
    ran = locum(*words, "--casebook", book)
    assert ran.code == 0, ran.talk
    with Store.open(book) as store:
        drive = store.drive(ran.json["drive"])
        assert drive.how == "done"
        assert drive.blocks > 0
        assert store.reviews(drive.id)


def test_replay_of_a_public_recording(locum, book):
    """Recorded warm-up in whole degrees (source in the file's head), smoothed and said so."""
    ran = locum("replay", "recorded_warmup_idle_a", *VAN, "--casebook", book)
    assert ran.code == 0
    assert ran.json["seconds"] > 1037
    assert "smoothed" in {w["code"] for w in ran.json["warnings"]}


def test_a_recording_that_is_too_fast_for_a_sensor_is_refused_unless_asked_for(locum, book):
    ran = locum("replay", "recorded_warmup_drive_a", *VAN, "--casebook", book)
    assert ran.code == 1
    assert ran.json["refusals"][0]["code"] == "rate"
    fast = locum("replay", "recorded_warmup_drive_a", *VAN, "--fast", "--casebook", book)
    assert fast.code == 0


def test_an_unreachable_value_is_refused_and_nothing_is_connected(locum, book):
    ran = locum("hold", "300C", *VAN, "--minutes", "1", "--casebook", book)
    assert ran.code == 1
    with Store.open(book) as store:
        assert store.drives()[-1].stretches[-1].connected == "real"


def test_a_value_that_is_no_value_is_misuse(locum, book):
    assert locum("hold", "warm", "--casebook", book).code == 2


@pytest.mark.parametrize(
    ("minutes", "code"),
    [("0", "minutes"), ("-3", "minutes"), ("99999", "minutes"), ("nan", "usage")],
)
@pytest.mark.parametrize("verb", [("hold", "now"), ("follow",), ("listen",), ("sweep", "70", "75")])
def test_a_time_that_is_no_time_is_misuse(locum, book, minutes, code, verb):
    """`nan` is no number at all and falls at the reading; the others are numbers out of range."""
    ran = locum(*verb, "--minutes", minutes, "--casebook", book)
    assert (ran.code, ran.json["refusals"][0]["code"]) == (2, code)


def test_a_sweep_tells_both_bad_ends_at_once_and_needs_a_way(locum, book):
    both = locum("sweep", "warm", "hot", "--casebook", book)
    assert (both.code, len(both.json["refusals"])) == (1, 2)
    same = locum("sweep", "20", "20C", "--casebook", book)
    assert (same.code, same.json["refusals"][0]["code"]) == (1, "no_way")
