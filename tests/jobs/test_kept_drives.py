"""Recordings reviewed again from the casebook: without sheets, and with a plan's own opens."""

from __future__ import annotations

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")


def test_a_recording_made_from_readings_or_nothing_is_reviewed_again(locum, book):
    for words in (("listen", "--sensor", "20C=2.5k,82C=300"), ("listen",)):
        ran = locum(*words, "--minutes", "1", "--casebook", book)
        again = locum("drive", "review", ran.json["drive"], "--casebook", book)
        assert again.code == 0, again.talk
        assert again.json["exposure"]["recorded_s"] > 50


def test_the_opens_of_a_replayed_profile_are_injections_of_their_length(locum, book, tmp_path):
    profile = tmp_path / "opens.toml"
    profile.write_text(
        'schema = 1\nunit = "celsius"\n[[segment]]\nhold = {at = 75, minutes = 0.2}\n[[segment]]\n'
        'glitches = {at = 75, towards = "cold", length_ms = 400, every_s = 15.0, count = 3}\n'
    )
    ran = locum("replay", str(profile), *VAN, "--casebook", book)
    assert ran.code == 0, ran.talk
    shown = locum("drive", "show", ran.json["drive"], "--casebook", book)
    given = shown.json["review"]["injections"]
    assert [(i["kind"], i["length_ms"]) for i in given] == [("open", 400)] * 3
