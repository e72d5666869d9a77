"""What comes after the drives, by the command line: hand-back, calls, owner's data, likeness, care."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from locum.casebook.store import Store

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")


@pytest.fixture
def case(locum, book):
    return locum("case", "new", "Van, fan runs", *VAN, "--casebook", book).json["id"]


def test_hand_back_is_ticked_line_by_line_and_the_page_shows_the_date(locum, book, case, tmp_path):
    assert locum("case", "hand-back", case, "--casebook", book).json["all_done"] is False
    done = locum("case", "hand-back", case, "follow-up-set", "--note", "9 November", "--author", "B",
                 "--casebook", book)  # fmt: skip
    rows = {row["item"]: row for row in done.json["hand_back"]}
    assert (rows["follow_up_set"]["done"], rows["follow_up_set"]["author"]) == (True, "B")
    page = tmp_path / "c.html"
    locum("case", "report", case, "--for", "customer", "--out", str(page), "--casebook", book)
    assert "9 November" in page.read_text()
    undone = locum("case", "hand-back", case, "follow_up_set", "--undo", "--casebook", book)
    assert {r["item"]: r["done"] for r in undone.json["hand_back"]}["follow_up_set"] is False


def test_an_unknown_line_of_the_list_is_refused_with_the_list(locum, book, case):
    ran = locum("case", "hand-back", case, "wash", "--casebook", book)
    assert ran.code == 1
    assert "device_removed" in ran.talk
    assert locum("case", "hand-back", case, "--note", "x", "--casebook", book).code == 2


def test_identity_is_set_shown_and_erased_and_never_in_the_case(locum, book, case):
    assert locum("case", "identity", "set", case, "plate=QX77", "owner=Ada", "--casebook", book).json[
        "fields_kept"] == ["owner", "plate"]  # fmt: skip
    shown = locum("case", "identity", "show", case, "--casebook", book).json
    assert shown["identity"] == {"plate": "QX77", "owner": "Ada"}
    assert "QX77" not in json.dumps(locum("case", "show", case, "--casebook", book).json)
    erased = locum("case", "identity", "erase", case, "--casebook", book)
    assert erased.json["erased"] == 2
    assert erased.json["warnings"][0]["code"] == "copies_keep_it"
    assert locum("case", "identity", "show", case, "--casebook", book).json["identity"] == {}


def test_every_wrong_identity_field_is_named_and_none_is_kept(locum, book, case):
    ran = locum("case", "identity", "set", case, "plate=1", "shoe=44", "vin", "--casebook", book)
    assert ran.code == 2
    assert "shoe=44" in ran.talk
    assert "'vin'" in ran.talk
    assert locum("case", "identity", "show", case, "--casebook", book).json["identity"] == {}


def test_a_case_is_closed_with_what_is_still_open_and_opened_again(locum, book, case):
    closed = locum("case", "close", case, "--why", "cured", "--casebook", book)
    assert closed.json["closed"]
    assert closed.json["warnings"][0]["code"] == "hand_back_open"
    other = locum("case", "new", "Comeback", "--casebook", book).json["id"]
    again = locum("case", "reopen", case, "--why", "came back", "--see", other, "--casebook", book)
    assert again.json["see"] == other
    listed = {c["id"]: c for c in locum("case", "list", "--casebook", book).json["cases"]}
    assert listed[case]["closed"] is None


def test_files_are_enclosed_all_or_none(locum, book, case, tmp_path):
    photo = tmp_path / "terminal.jpg"
    photo.write_bytes(b"\xff\xd8 not a photo")
    ran = locum("case", "enclose", case, str(photo), str(tmp_path / "none.png"), "--casebook", book)
    assert ran.code == 3
    assert "none.png" in ran.talk
    with Store.open(book) as store:
        assert store.attachments(case) == []
    kept = locum("case", "enclose", case, str(photo), "--note", "before", "--casebook", book).json
    assert [(x["name"], x["note"]) for x in kept["enclosed"]] == [("terminal.jpg", "before")]


def fill_with_likes(path: str, count: int) -> None:
    with Store.open(path) as store:
        for number in range(count):
            made = store.new_case({"title": f"Van {number}", "component": "coolant sensor circuit"})
            store.add_finding(made, "signature", {"towards": "cold", "length_ms": [80, 300]})
            store.add_finding(made, "found", {"cause": "connector" if number % 2 else "sensor"})


def test_cases_are_found_by_signature_and_with_words(locum, book):
    fill_with_likes(book, 3)
    with Store.open(book) as store:
        hot = store.new_case({"title": "Van 0 hot"})
        store.add_finding(hot, "signature", {"towards": "hot", "length_ms": [900, 2000]})
    cold = locum("case", "find", "--towards", "cold", "--length", "100", "--casebook", book).json
    assert {c["title"] for c in cold["cases"]} == {"Van 0", "Van 1", "Van 2"}
    both = locum("case", "find", "Van 0", "--length", "1000", "1500", "--casebook", book).json
    assert [c["title"] for c in both["cases"]] == ["Van 0 hot"]
    assert locum("case", "find", "--casebook", book).code == 2


@pytest.mark.parametrize(("others", "speaks"), [(4, False), (5, True)])
def test_similar_cases_speak_from_five_on(locum, book, others, speaks):
    fill_with_likes(book, others + 1)
    with Store.open(book) as store:
        mine = store.cases()[0].id
    told = locum("case", "similar", mine, "--casebook", book).json
    assert told["n"] == others
    assert told["sentence"].startswith("Of 5 similar cases") is speaks
    assert bool(told["causes"]) is speaks
    assert mine not in {c["id"] for c in told["cases"]}


def test_a_casebook_is_merged_once_and_the_owner_stays_behind(locum, book, case, tmp_path):
    locum("case", "identity", "set", case, "plate=QX77", "--casebook", book)
    home = str(tmp_path / "home.sqlite")
    locum("case", "new", "Here already", "--casebook", home)
    assert locum("case", "merge", book, "--casebook", home).json["cases"] == [case]
    assert locum("case", "merge", book, "--casebook", home).json["new_rows"] == 0
    assert locum("case", "identity", "show", case, "--casebook", home).json["identity"] == {}


def test_a_damaged_casebook_is_told_and_what_is_readable_is_saved(locum, book, case, tmp_path):
    with Store.open(book) as store:
        for number in range(400):
            store.add_finding(case, "note", {"words": f"note {number} " + "x" * 400})
    data = bytearray(Path(book).read_bytes())
    page = data.index(b'{"words":"note 200 ') // 4096 * 4096
    data[page : page + 4096] = b"\x5a" * 4096
    Path(book).write_bytes(data)
    checked = locum("case", "check", "--casebook", book)
    assert checked.code == 1
    assert checked.json["ok"] is False
    assert "rescue" in checked.json["remedy"]
    assert Path(book).read_bytes() == bytes(data), "looking must change nothing"
    saved = str(tmp_path / "saved.sqlite")
    rescued = locum("case", "rescue", book, "--out", saved)
    assert rescued.code == 1, "some rows are lost, and that is said"
    assert locum("case", "check", "--casebook", saved).json["ok"] is True
    with Store.open(saved) as store:
        assert 300 < len(store.findings(case, "note")) < 400


def test_what_is_no_casebook_at_all_is_told_in_a_sentence(locum, tmp_path):
    rubbish = tmp_path / "casebook.sqlite"
    rubbish.write_bytes(b"\x00\x5a" * 8192)
    ran = locum("case", "check", "--casebook", str(rubbish))
    assert ran.code == 3
    assert ran.json["refusals"][0]["text"]
    assert rubbish.read_bytes() == b"\x00\x5a" * 8192


def test_pins_and_readings_are_set_and_stand_on_the_workshop_page(locum, book, case, tmp_path):
    told = ("tap.pins.sensor=14", "tap.colours.sensor=green/white", "module_readings.open=5.02 V",
            "sensor_readings.cold 14 degC=3120 ohm", "vehicle.year=2004")  # fmt: skip
    assert locum("case", "set", case, *told, "--author", "B", "--casebook", book).code == 0
    locum("case", "set", case, "tap.pins.return=33", "--casebook", book)
    page = tmp_path / "w.html"
    made = locum("case", "report", case, "--out", str(page), "--casebook", book).json
    facts = json.loads(Path(made["data"]).read_text())
    rows = {row["label"]: row["value"] for row in facts["setup"]}
    assert rows["pins sensor"] == "14"
    assert rows["pins return"] == "33", "a later setting lies over the earlier, not in its place"
    assert [r["value"] for r in facts["module"]["readings"]] == ["5.02 V"]
    for words in ("green/white", "3120 ohm", "2004"):
        assert words in page.read_text()


def test_every_fault_of_set_is_told_and_nothing_is_set(locum, book, case):
    ran = locum("case", "set", case, "title=New", "vin=1", "colour=red", "tap=14", "x", "--casebook", book)  # fmt: skip
    assert ran.code == 2
    assert [r["code"] for r in ran.json["refusals"]] == [
        "field_is_identity", "field_unknown", "field_kind", "field"]  # fmt: skip
    assert locum("case", "show", case, "--casebook", book).json["title"] == "Van, fan runs"
