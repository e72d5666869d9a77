"""Settings: a file, any key for one command alone, every key with its meaning."""

import dataclasses

import pytest

from locum import cli
from locum.errors import Misuse
from locum.settings import (
    Settings,
    commented_text,
    give_settings,
    load_settings,
    meanings,
)


@pytest.fixture(autouse=True)
def own_place(tmp_path, monkeypatch):
    monkeypatch.setattr("locum.settings.settings_path", lambda: tmp_path / "settings.toml")
    monkeypatch.setattr(
        "locum.jobs.workshop_settings.settings_path", lambda: tmp_path / "settings.toml"
    )
    yield tmp_path / "settings.toml"
    give_settings([])


ODD = Settings(unit="fahrenheit", bell=False, workshop='a "b" \\ c\n\u00f6', confidence=0.9)


def test_what_is_written_is_read(own_place):
    own_place.write_text(commented_text(ODD), "utf-8")
    assert load_settings() == ODD


def test_every_key_has_a_meaning_in_the_file(own_place):
    text = commented_text(Settings())
    for item in dataclasses.fields(Settings):
        assert f"# {meanings()[item.name]}\n{item.name} = " in text


@pytest.mark.parametrize("item", dataclasses.fields(Settings), ids=lambda item: item.name)
def test_every_key_can_be_given_for_one_command(own_place, item):
    """An option of its own would hide the one that matters among thirty."""
    own_place.write_text(commented_text(Settings()), "utf-8")
    other = {"bell": False, "confidence": 0.8, "max_standing_min": 7.0, "unit": "fahrenheit",
             "theme": "day", "glyphs": "ascii"}.get(item.name, "x = \"y\"")  # fmt: skip
    typed = str(other).lower() if isinstance(other, bool) else str(other)
    give_settings([f"{item.name}={typed}"])
    assert load_settings() == dataclasses.replace(Settings(), **{item.name: other})
    give_settings([])
    assert load_settings() == Settings()


def test_faults_are_told_together():
    with pytest.raises(Misuse) as told:
        give_settings(["unti=x", "bell=maybe", "confidence=7", "loose"])
    text = " ".join(remark.text for remark in told.value.remarks)
    assert all(word in text for word in ("unti", "bell", "confidence", "loose"))
    assert load_settings() == Settings()


def test_one_command_uses_what_it_is_given_and_the_next_does_not(locum):
    words = ("verdict", "--before", "3/10h", "--after", "0/10h")
    usual, asked = locum(*words), locum(*words, "--set", "confidence=0.9")
    assert asked.json["rate_after"]["high"] < usual.json["rate_after"]["high"]
    assert asked.json == locum(*words, "--confidence", "0.9").json
    assert locum(*words).json == usual.json
    assert locum(*words, "--set", "confidenze=0.9").code == 2


def test_the_file_is_made_once_and_never_replaced(locum, own_place):
    made = locum("settings", "--write", "--set", "technician=Ilves")
    assert made.json["exists"]
    assert load_settings().technician == "Ilves"
    own_place.write_text('technician = "Kask"\n')
    assert locum("settings", "--write").code == 3
    assert locum("settings").json["settings"][5]["value"] == "Kask"


def test_a_case_takes_workshop_and_technician_from_them(locum, book):
    case = locum("case", "new", "t", "--casebook", book, "--set", "workshop=Halden Works").json[
        "id"
    ]
    assert (
        locum("case", "show", case, "--casebook", book).json["fields"]["workshop"] == "Halden Works"
    )


def test_fahrenheit_reaches_what_commands_tell_and_pages_but_no_json(locum, book, capsys, tmp_path):
    f = ("--set", "unit=fahrenheit")
    words = ("sensor", "at", "coolant_2k5", "--celsius", "100")
    assert locum(*words, *f).json == locum(*words).json
    capsys.readouterr()
    assert cli.main([*words, *f]) == 0
    assert "212.00 degF" in capsys.readouterr().out
    van = ("--sensor", "parcel_van_coolant", "--vehicle", "parcel_van")
    case = locum("case", "new", "t", *van, "--casebook", book).json["id"]
    out = tmp_path / "page.html"
    assert locum("case", "report", case, "--out", str(out), "--casebook", book, *f).code == 0
    shown = out.read_text("utf-8").partition('<script type="application/json"')[0]
    assert "sensor above 140 °F" in shown
    assert "°C" not in shown
