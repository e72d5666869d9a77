"""File names and CSV cells that hurt nobody."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locum.casebook import plainfiles


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("photo.jpg", "photo.jpg"),
        ("../../etc/passwd", "etc-passwd"),
        ("C:\\temp\\a.txt", "C-temp-a.txt"),
        ("Öl & Kühler.toml", "Ol-Kuhler.toml"),
        (".hidden", "hidden"),
        ("nul.txt", "file-nul.txt"),
        ("", "file"),
        ("日本語", "file"),
        ("a\x00b\nc", "a-b-c"),
        ("x" * 300 + ".toml", "x" * 55 + ".toml"),
    ],
)
def test_names(text, name):
    assert plainfiles.safe_name(text) == name


@given(st.text())
def test_any_text_makes_a_name_that_any_system_takes(text):
    name = plainfiles.safe_name(text)
    assert 0 < len(name) <= 70
    assert name.isascii()
    assert not set(name) & set('/\\:*?"<>| \n')
    assert not name.startswith((".", "-"))
    assert not name.endswith(".")
    assert ".." not in name


def test_taken_names_count_on_whatever_their_case():
    taken: set[str] = set()
    names = [plainfiles.free_in(taken, name) for name in ("a.jpg", "A.jpg", "a.jpg")]
    assert names == ["a.jpg", "A-2.jpg", "a-3.jpg"]


@given(st.text(min_size=1))
def test_no_cell_begins_like_a_formula(text):
    assert not plainfiles.safe_cell(text).startswith(("=", "+", "-", "@", "\t", "\r"))


def test_numbers_stay_numbers():
    assert plainfiles.safe_cell(-1.5) == "-1.5"
    assert plainfiles.safe_cell(-1.5, decimal_comma=True) == "-1,5"
    assert plainfiles.safe_cell(None) == ""
    assert plainfiles.safe_cell("=1+2") == "'=1+2"


def test_table_says_what_it_holds():
    columns = [plainfiles.Column("t_s", "s", "time"), plainfiles.Column("note", "", "free words")]
    text = plainfiles.csv_text(columns, [[0.5, 'a "b", c\nd'], [1, None]], about="marks")
    lines = text.split("\n")
    assert lines[:4] == ["\ufeff# marks", "# t_s [s]: time", "# note [-]: free words", "t_s,note"]
    rows = list(csv.reader(io.StringIO("\n".join(lines[3:]))))
    assert rows[1:] == [
        ["0.5", 'a "b", c\nd'],
        ["1", ""],
    ]


def test_decimal_comma_parts_cells_by_semicolon():
    columns = [plainfiles.Column("a", "V", "x"), plainfiles.Column("b", "V", "y")]
    assert plainfiles.csv_text(columns, [[0.5, 2]], decimal_comma=True).endswith("a;b\n0,5;2\n")


def test_checksums_can_be_read_again():
    text = plainfiles.checksum_lines({"b": "0" * 64, "a b.txt": "1" * 64})
    assert list(plainfiles.read_checksums(text)) == ["a b.txt", "b"]
