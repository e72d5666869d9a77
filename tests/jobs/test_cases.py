"""A case by the command line, from opening it to importing its export somewhere else."""

from __future__ import annotations

from pathlib import Path

import pytest

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")


@pytest.fixture
def case(locum, book):
    opened = locum("case", "new", "Van, fan runs", "--complaint", "fan runs in the rain", *VAN,
                   "--casebook", book)  # fmt: skip
    assert opened.code == 0
    return opened.json["id"]


def test_found_by_words_of_the_complaint(locum, book, case):
    found = locum("case", "find", "rain", "--casebook", book)
    assert [hit["id"] for hit in found.json["cases"]] == [case]
    assert locum("case", "find", "gearbox", "--casebook", book).json["cases"] == []


def test_sheets_are_copied_into_the_case_and_used_from_there(locum, book, case):
    shown = locum("case", "show", case, "--casebook", book)
    assert {s["role"] for s in shown.json["sheets"]} == {"sensor", "module", "vehicle"}
    ran = locum("listen", "--case", case, "--minutes", "1", "--casebook", book)
    assert ran.code == 0
    assert "sensor_assumed" not in {w["code"] for w in ran.json["warnings"]}
    listed = locum("drive", "list", "--case", case, "--casebook", book)
    assert [d["id"] for d in listed.json["drives"]] == [ran.json["drive"]]


def test_a_drive_made_without_a_case_is_filed_later(locum, book, case):
    ran = locum("listen", *VAN, "--minutes", "1", "--casebook", book)
    before = locum("case", "list", "--casebook", book).json
    assert [d["id"] for d in before["unfiled_drives"]] == [ran.json["drive"]]
    assert locum("case", "attach", case, ran.json["drive"], "--casebook", book).code == 0
    after = locum("case", "list", "--casebook", book).json
    assert after["unfiled_drives"] == []
    assert after["cases"][0]["drives"] == 1


def test_findings_are_appended(locum, book, case):
    locum("case", "note", case, "terminal", "green", "--kind", "defect", "--casebook", book)
    locum("case", "note", case, "looked again", "--author", "B", "--casebook", book)
    shown = locum("case", "show", case, "--casebook", book).json
    assert [f["body"]["words"] for f in shown["findings"]] == ["terminal green", "looked again"]


def test_export_opens_elsewhere_and_imports_into_another_casebook(locum, book, case, tmp_path):
    locum("listen", "--case", case, "--minutes", "1", "--casebook", book)
    out = locum("case", "export", case, "--out", str(tmp_path / "out"), "--casebook", book)
    assert out.code == 0
    folder = Path(out.json["out"])
    names = {p.name for p in folder.rglob("*")}
    assert {"case.json", "report-workshop.html", "report-customer.html"} <= names
    other = str(tmp_path / "other.sqlite")
    assert locum("case", "import", str(folder), "--casebook", other).json["cases"] == [case]
    assert len(locum("drive", "list", "--case", case, "--casebook", other).json["drives"]) == 1


def test_a_drive_is_exported_with_every_column_described(locum, book, tmp_path):
    ran = locum("follow", *VAN, "--minutes", "1", "--casebook", book)
    out = locum(
        "drive", "export", ran.json["drive"], "--out", str(tmp_path / "d"), "--casebook", book
    )
    tables = [Path(name) for name in out.json["files"] if name.endswith(".csv")]
    assert "samples.csv" in {t.name for t in tables}
    for table in tables:
        lines = table.read_text("utf-8-sig").splitlines()
        described = {x[2:].partition(" [")[0] for x in lines if x.startswith("# ")}
        columns = next(x for x in lines if not x.startswith("#")).split(",")
        assert set(columns) <= described


def test_a_folder_with_something_in_it_is_not_written_into(locum, book, tmp_path):
    drive = locum("listen", *VAN, "--minutes", "0.5", "--casebook", book).json["drive"]
    place = tmp_path / "d"
    place.mkdir()
    words = ("drive", "export", drive, "--out", str(place), "--casebook", book)
    assert locum(*words).code == 0
    before = {p.name: p.read_bytes() for p in place.iterdir()}
    assert locum(*words).code == 3
    assert {p.name: p.read_bytes() for p in place.iterdir()} == before


def test_a_case_is_exported_as_a_zip_alone(locum, book, case, tmp_path):
    out = tmp_path / "for the dealer.zip"
    assert locum("case", "export", case, "--out", str(out), "--casebook", book).code == 0
    assert [p.name for p in tmp_path.iterdir() if not p.name.startswith("c")] == [out.name]
    other = str(tmp_path / "other.sqlite")
    assert locum("case", "import", str(out), "--casebook", other).json["cases"] == [case]


def test_the_casebook_is_checked_and_copied(locum, book, case, tmp_path):
    assert locum("case", "check", "--casebook", book).json["ok"] is True
    copy = tmp_path / "copy.sqlite"
    assert locum("case", "backup", "--out", str(copy), "--casebook", book).code == 0
    assert locum("case", "list", "--casebook", str(copy)).json["cases"][0]["id"] == case


def test_the_verdict_before_any_drive_is_undecided(locum, book, case):
    weighed = locum("case", "weigh", case, "--casebook", book)
    assert weighed.json["verdict"]["conclusion"] == "undecided"


def test_an_unknown_case_is_refused_in_words(locum, book):
    ran = locum("case", "show", "01ZZZZ", "--casebook", book)
    assert ran.code == 1
    assert ran.json["refusals"][0]["text"]


def test_readings_given_to_a_case_are_its_sensor_from_then_on(locum, book):
    """They were dropped in silence once: every later recording took the usual sensor instead."""
    for words, points in (("20C=2.5k,82C=300", 2), ("20C=2.5k", 1)):
        case = locum("case", "new", "t", "--sensor", words, "--casebook", book)
        assert case.json["sheets"] == ["sensor"], case.talk
        ran = locum("listen", "--case", case.json["id"], "--minutes", "0.5", "--casebook", book)
        assert ran.code == 0, ran.talk
        assert "sensor_assumed" not in {w["code"] for w in ran.json["warnings"]}
        drive = locum("drive", "show", ran.json["drive"], "--casebook", book).json
        sheet = next(s for s in drive["sheets"] if s["role"] == "sensor")
        assert sheet["text"].count("celsius =") == points
        out = locum("case", "weigh", case.json["id"], "--casebook", book)
        assert out.code == 0
    assert locum("case", "new", "t", "--sensor", "20C=", "--casebook", book).code in (1, 2)
