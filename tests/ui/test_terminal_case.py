"""A whole case in a real terminal by keyboard alone, the board's engine on MicroPython."""

from __future__ import annotations

import json
import re
import sys

import pytest

from locum.casebook.store import Store
from ui_terminal import TESTS, Terminal, needs_micropython, needs_tmux, surroundings

pytestmark = pytest.mark.timeout(300)
ANSWERS = ("coolant", "20C=2.5k", "80C=310", "", "y")


@pytest.fixture
def van(tmp_path):
    """``locum`` in a terminal, in the van that kicks out every minute, twenty times as fast as life."""
    needs_tmux()
    needs_micropython()
    script = [str(TESTS / "ui_van.py"), str(tmp_path / "witness.json")]
    options = ["--board", "virtual", "--speed", "20", "--casebook", str(tmp_path / "book.sqlite")]
    with Terminal(tmp_path, [sys.executable, *script, *options], environ=surroundings(tmp_path)) as screen:  # fmt: skip
        yield screen


def recorded_s(text: str) -> int:
    """How long the recording is, as told. [s]"""
    found = re.search(r"(\d+):(\d\d) recorded", text)
    return 60 * int(found[1]) + int(found[2]) if found else 0


def asked(text: str) -> bool:
    return "anything felt?" in text or "what was it?" in text


def test_from_an_empty_casebook_to_a_written_report_in_a_terminal(van, tmp_path):
    van.until("Which circuit?")
    van.type("listen")
    van.until("commanded top gear, clutch locked")
    assert "connected REAL SENSOR safe" in van.flat()
    van.press("m")
    van.until("marked: felt")
    van.until("KICK-OUT what was it?", 60)
    van.press("l")
    van.until("that was the road")

    van.press("g")
    for line in ANSWERS:
        van.until(f"{ANSWERS.index(line) + 1} of 5")
        van.type(line)
    van.until("connected STAND-IN", 60)
    assert "OVERHEATING UNSEEN" in van.flat()
    van.until("told 80.", 60)
    van.press("Enter")
    van.type("open 600")
    van.until("open 600 ms: done", 60)
    van.until(lambda: recorded_s(van.flat()) > 45, 60)  # a stretch worth asking about
    van.press("b")
    van.until("connected REAL SENSOR", 60)
    while "anything felt?" not in van.until(lambda: asked(van.flat())):
        van.press("k")
    van.press("n")
    van.until(lambda: "anything felt?" not in van.flat())

    van.press("4")
    van.until("0 cases in the casebook")
    van.press("n")
    van.type("Van 7: clutch lets go in the rain")
    van.until("IN USE")
    van.press("3")
    van.until("n starts the next drive")
    van.press("n")
    van.until("Drive VIRTUAL BOARD")
    van.until("connected REAL SENSOR")
    van.until("commanded top gear, clutch locked", 60)
    van.press("v")  # the drive is over: it is closed, kept, and weighed
    van.press("3")
    van.until("reached", 60)

    van.press("4", "o")
    van.until("Both pages written to", 60)
    van.press("x")
    van.until("Exported to", 60)
    van.press("q")
    assert van.seconds_until_gone() < 2.0
    assert van.ended() == 0

    witness = json.loads((tmp_path / "witness.json").read_text())
    assert not any(witness["energised"])
    assert not witness["breaches"]
    assert set(witness["engines"]) == {"micropython"}
    with Store.open(tmp_path / "book.sqlite") as store:
        (case,) = store.cases()
        drives = store.drives(case.id)
        everything = [store.drive(drive.id) for drive in store.drives()]
        assert all(drive.how == "done" for drive in everything)
        assert len(drives) >= 3
        stretches = [s for drive in everything for s in drive.stretches]
        assert [s.connected for s in stretches].count("stand_in") == 1
        assert any(s.felt is False for s in stretches)
        marks = {mark.kind for drive in everything for mark in store.marks(drive.id)}
        assert {"key", "road"} <= marks
    pages = {path.name: path for path in tmp_path.rglob("report-*.html")}
    assert {"report-customer.html", "report-workshop.html"} <= set(pages)
    assert "Van 7" in pages["report-workshop.html"].read_text(encoding="utf-8")
