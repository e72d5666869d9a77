"""Every command of the casebook in words: short lines, no table of the code, no traceback."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from locum import cli
from locum.cli_commands import COMMANDS
from locum.cli_phrases import WIDTH, folded, table
from locum.cli_text import _plain, formatter_of
from locum.jobs.cases import Document

VAN = ("--sensor", "parcel_van_coolant", "--module", "parcel_van_engine", "--vehicle", "parcel_van")
TITLE = "A title that is rather long, about a fan that runs on when it ought to rest, and a clutch"


@pytest.fixture
def told(capsys, monkeypatch, tmp_path, book):
    """``told("case", "list")`` in words: exit code 0, its lines."""
    monkeypatch.chdir(tmp_path)

    def run(*words: str, code: int = 0) -> list[str]:
        capsys.readouterr()
        assert cli.main([*words, "--casebook", book]) == code
        return capsys.readouterr().out.splitlines()

    return run


def test_a_whole_case_is_told_in_words_that_fit(told, tmp_path):
    lines = told("case", "new", TITLE, "--complaint", "wandering " * 30)
    case = lines[0].split()[1].rstrip(":")
    assert TITLE in " ".join(line.strip() for line in lines[:2])
    lines += told("listen", *VAN, "--minutes", "1", "--case", case, "--board", "virtual")
    drive = told("drive", "list")[1].split()[0]
    for words in (
        ("case", "list"), ("case", "show", case), ("case", "weigh", case), ("drive", "show", drive),
        ("drive", "review", drive), ("case", "find", "fan"), ("case", "find", "nowhere"),
        ("case", "set", case, "tap.pins.sensor=14", "component=coolant sensor circuit"),
        ("case", "note", case, "water", "in", "the", "plug", "--kind", "defect"),
        ("case", "hand-back", case, "device_removed"), ("case", "similar", case),
        ("case", "identity", "set", case, "plate=HAL 1"), ("case", "identity", "show", case),
        ("case", "identity", "erase", case), ("case", "close", case), ("case", "reopen", case),
        ("case", "check"), ("case", "follow-up", case, "--hours", "1", "--kick-outs", "0"),
    ):  # fmt: skip
        some = told(*words)
        assert some, words
        assert "{" not in "".join(some), words
        lines += some
    assert [line for line in lines if len(line) > WIDTH and "/" not in line] == []


def test_no_command_of_the_casebook_is_told_as_a_bare_table_of_the_code():
    for command in COMMANDS:
        if command.name in ("case", "drive", "quiet"):
            jobs = [c.job for child in command.children for c in (child.children or (child,))]
            assert jobs
            bare = [job for job in jobs if formatter_of(Document(), job) is _plain]
            assert [job for job in bare if "kept_on_board" not in job] == []


def test_long_lines_break_between_words_and_tables_are_cut():
    parts = folded("  " + "word " * 40)
    assert all(len(part) <= WIDTH for part in parts)
    assert parts[1].startswith("    word")
    rows = table(("a", "b"), [(1, "x" * 200), (20, "y")])
    assert rows[2] == "20  y"
    assert len(rows[1]) == WIDTH


def test_a_board_that_nobody_named_is_said_to_be_virtual(locum, book):
    ran = locum("listen", *VAN, "--minutes", "0.5", "--casebook", book)
    assert "played_virtually" in {w["code"] for w in ran.json["warnings"]}
    meant = locum("listen", *VAN, "--minutes", "0.5", "--casebook", book, "--board", "virtual")
    assert "played_virtually" not in {w["code"] for w in meant.json["warnings"]}


def test_a_page_says_that_its_recordings_are_virtual(locum, book, tmp_path):
    case = locum("case", "new", "x", "--casebook", book).json["id"]
    locum("listen", *VAN, "--minutes", "0.5", "--case", case, "--casebook", book)
    out = tmp_path / "page.html"
    locum("case", "report", case, "--out", str(out), "--casebook", book)
    assert any("virtual board" in x for x in json.loads(Path(out).with_suffix(".json").read_text())["remarks"])  # fmt: skip
