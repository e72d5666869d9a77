"""The line-by-line mode: pipes, a dumb terminal, Ctrl-C, and the same words as the screens."""

from __future__ import annotations

import os
import re
import signal
import time

import pytest

from locum.jobs.desk import Desk, Setup
from locum.jobs.typed import LINES
from locum.settings import Settings
from locum.ui.plain import Plain
from locum.ui.plain_words import WORDS
from ui_plain import opened, told_of

pytestmark = pytest.mark.timeout(120)
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


def test_a_whole_guided_start_through_a_pipe(tmp_path):
    script = "\n20C=2.5k\n80C=310\n\ny\nwait 60\nstatus\n\nwait 3\nstatus\nquit\n"
    told = told_of(tmp_path, script)
    assert not CONTROL.search(told), "no cursor moves, nothing is coloured"
    first, _, rest = told.partition("connected: ")
    assert "5 of 5" in first and "LINE" in first and "SENS" in first  # noqa: PT018
    assert rest.startswith("STAND-IN")
    assert re.search(r"told: (79|80)\.\d C", rest)
    assert "asked: real sensor now" in rest
    assert "connected: REAL SENSOR" in rest


def test_the_end_of_the_input_goes_home_and_leaves(tmp_path):
    told = told_of(tmp_path, "now\nwait 20\nstatus\n", "--sensor", "20C=2.5k,80C=310")
    assert "connected: STAND-IN" in told
    assert told.rstrip().endswith("recording ended; safe: the REAL SENSOR is connected")


def test_leaving_asks_only_while_the_stand_in_is_connected(tmp_path):
    told = told_of(tmp_path, "wait 3\nquit\n", "--sensor", "20C=2.5k,80C=310")
    assert "The stand-in is connected." not in told
    told = told_of(
        tmp_path, "now\nwait 20\nquit\nstay\nstatus\nquit\ny\n", "--sensor", "20C=2.5k,80C=310"
    )
    assert told.count("The stand-in is connected. y:") == 2, told
    assert "connected: STAND-IN" in told, "anything but y goes on"
    assert "not leaving" in told


def test_ctrl_c_is_the_real_sensor_and_a_clean_end(tmp_path):
    sitting = opened(tmp_path, "--sensor", "20C=2.5k,80C=310")
    sitting.stdin.write("now\n")
    sitting.stdin.flush()
    for line in sitting.stdout:
        if line.startswith("STAND-IN"):
            break
    sitting.send_signal(signal.SIGINT)
    began = time.monotonic()
    told, _ = sitting.communicate(timeout=20)
    assert time.monotonic() - began < 3
    assert sitting.returncode == 0
    assert "real sensor" in told
    assert "Traceback" not in told


def test_what_is_not_understood_is_told_with_examples_and_changes_nothing(tmp_path):
    told = told_of(tmp_path, "wait 3\ntepid\n190C\nwait 200\nweigh\nstatus\nquit\n",
                   "--sensor", "20C=2.5k,80C=310")  # fmt: skip
    assert "320ohm" in told
    assert "66 ohm" in told
    assert "case TITLE" in told
    assert "connected: REAL SENSOR" in told


def test_every_key_of_the_drive_place_has_a_word_or_a_line():
    from locum.ui.actions import bindings_of
    from locum.ui.app import LocumApp
    from locum.ui.places.drive import DrivePlace

    instead = {"ease": "ease", "follow": "follow", "mark(0)": "mark", "mark(10)": "mark",
               "mark(30)": "mark", "mark(-5)": "early", "note": "note", "offer('cold')": "cold",
               "offer('warm')": "warm", "offer('threshold')": "threshold", "extend": "extend",
               "new_recording": "new", "detail": "status", "answer('foot')": "foot",
               "answer('brake')": "brake", "answer('road')": "road", "felt(True)": "yes",
               "felt(False)": "no", "type": ""}  # fmt: skip
    lines = {line.split()[0] for line, _ in LINES}
    for binding in (*bindings_of(DrivePlace), *bindings_of(LocumApp)):
        if binding.action in instead:
            assert instead[binding.action] in {*WORDS, *lines}, binding.action
    assert len(bindings_of(DrivePlace)) + len(bindings_of(LocumApp)) >= 25


class Told(Desk):
    """A desk without a board that writes down what it was asked for."""

    def __init__(self, book: str) -> None:
        super().__init__(Setup(casebook=book), Settings())
        self.did: list[str] = []

    def real_sensor_now(self) -> None:
        self.did.append("now")

    def ease_back(self) -> None:
        self.did.append("ease")

    def ask(self, act, *arguments, words="") -> None:
        self.did.append(act)


@pytest.mark.parametrize(
    ("line", "did"),
    [("", "now"), ("real", "now"), ("  ", "now"), ("ease", "ease"), ("80", "hold"), ("now", "hold"),
     ("follow", "follow"), ("open 300", "contact"), ("mark 10", "mark"), ("no", "felt"),
     ("note rain", "mark"), ("sweep 20 90 10", "sweep"), ("NOW", "hold")],
)  # fmt: skip
def test_one_line_is_one_act(tmp_path, line, did):
    said: list[str] = []
    desk = Told(str(tmp_path / "book.sqlite"))
    Plain(desk, Settings(), said.append).take(line)
    assert desk.did == [did], said


def test_help_tells_every_word():
    said: list[str] = []
    Plain(Desk(Setup(), Settings()), Settings(), said.append).take("help")
    for word in WORDS:
        assert not word or word == "?" or word in said[0] or word == "help", word


KEYS = re.compile(
    r"\b(Space|Enter|Escape)\b|(?<!\d )\b[b-z]\b(?! ohm| kohm)|\b[1-4] (Prepare|Drive|Evidence|Cases)"
)


def test_what_comes_next_is_told_without_keys_that_are_not_there(a_glance, hidden_pair):
    from dataclasses import replace

    from locum.ui.plain_status import status_text

    quiet = replace(hidden_pair[0], hidden=False, foot="", asks_felt="", lines=())
    shown = [
        replace(quiet, awaits_answer=True), replace(quiet, asks_felt="real"), quiet,
        replace(quiet, glance=a_glance(commanded="")), replace(quiet, phase="failed"),
        replace(quiet, glance=a_glance(source="stand_in", state="holding")),
        replace(quiet, glance=a_glance(state="tripped", cause="hot")), replace(quiet, phase="ended"),
        replace(quiet, glance=a_glance(source="stand_in", state="returning")), replace(quiet, hidden=True),
    ]  # fmt: skip
    for snapshot in shown:
        told = status_text(snapshot, "celsius")
        comes = next(line for line in told.split("\n") if line.startswith("next: "))
        assert not KEYS.search(comes.removeprefix("next: ")), comes


def test_it_is_gone_within_two_seconds_of_quitting_on_a_port_that_says_nothing(tmp_path):
    ours, theirs = os.openpty()
    sitting = opened(tmp_path, "--board", os.ttyname(theirs))
    for line in sitting.stdout:
        if line.startswith("opening"):
            break
    began = time.monotonic()
    sitting.stdin.write("quit\n")
    sitting.stdin.flush()
    sitting.wait(timeout=20)
    took_s = time.monotonic() - began
    os.close(ours)
    os.close(theirs)
    assert took_s < 2.0
    assert sitting.returncode == 0
