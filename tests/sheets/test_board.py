"""The board sheet: shipped ones read, faults told together with their lines."""

import pytest

from locum.errors import Refused
from locum.locations import asset_root
from locum.sheets.board import read_board

FOLDER = asset_root("hardware/boards")
SHIPPED = sorted(path.stem for path in FOLDER.glob("*.toml"))


def text(name="reference"):
    return (FOLDER / f"{name}.toml").read_text()


def faults(changed):
    with pytest.raises(Refused) as caught:
        read_board(changed, "mine.toml")
    return caught.value.remarks


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_boards_are_read(name):
    board = read_board(text(name), name)
    assert board["id"] == name
    assert board["body"] in board["pins"]
    assert len(board["line"]) == board["abilities"]["watch_lines"]


def test_reference_and_pi_have_the_same_network():
    assert read_board(text("pi"))["network"] == read_board(text("reference"))["network"]


def test_defaults_are_filled_in():
    board = read_board(text())
    assert board["network"]["wiper"][0]["divisor"] == 256
    assert board["network"]["wiper"][0]["can_leave"] is True
    assert read_board(text("starter"))["ohmmeter"] == {}


def test_all_faults_are_told_at_once_with_their_lines():
    changed = text().replace("series_ohm = 36.0", 'series_ohm = "36"')
    changed = changed.replace("plan_wiper_ma = 1.4", "plan_wiper_ma = 3.0")
    changed = changed.replace("[sampling]", "[sampling]\nbukket_ms = 10")
    found = faults(changed)
    assert [r.code for r in found] == ["order", "not_a_number", "unknown_key"]
    line = (
        changed.splitlines().index(
            'series_ohm = "36"' + text().split("series_ohm = 36.0")[1].split("\n")[0]
        )
        + 1
    )
    assert f"line {line}" in found[1].where
    assert "bucket_ms" in found[2].remedy


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ('(P1 | P2 | P3 | P4 | HOT1 | HOT2)"', '(P1 | P2 | P3 | HOT1 | HOT2)"', "layout"),
        ('(P1 | P2 | P3 | P4 | HOT1 | HOT2)"', '(P1 | P2 | P3 | P4 | P9 | HOT1 | HOT2)"', "layout"),
        ('(P1 | P2 | P3 | P4 | HOT1 | HOT2)"', '(P1 | P2 | P3 | P4 | HOT1 | HOT2"', "layout"),
        ('name = "P2"', 'name = "P1"', "same_name"),
        ("hot_branches = 2", "hot_branches = 1", "hot_branches"),
        ("watch_lines = 6", "watch_lines = 5", "lines"),
        ("RELAY = 2", "RELAY = 3", "pin_twice"),
        ("schema = 1", "schema = 7", "schema"),
    ],
)  # fmt: skip
def test_faults_between_tables(old, new, code):
    assert old in text()
    assert code in [r.code for r in faults(text().replace(old, new, 1))]


def test_a_sheet_that_is_no_toml_is_refused():
    assert faults("[limits\n")[0].code == "not_toml"


def test_what_follows_from_a_wrong_value_is_no_fault_of_its_own():
    text = (asset_root("hardware/boards") / "reference.toml").read_text()
    text = text.replace("hot_branches = 2", "hot_branches = 9").replace(
        "watch_lines = 6", "watch_lines = 'six'"
    )
    with pytest.raises(Refused) as told:
        read_board(text, "mine")
    assert [r.where.split("(")[1] for r in told.value.remarks] == [
        "abilities watch_lines)",
        "abilities hot_branches)",
    ]
