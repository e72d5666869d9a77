"""Line by line out of a file into a file: the whole job, every line understood alone."""

from __future__ import annotations

import re
import subprocess

import pytest

from locum.casebook.store import Store
from locum.jobs.desk import Desk, Setup
from locum.settings import Settings
from locum.ui.plain import Plain
from ui_terminal import locum, surroundings

pytestmark = pytest.mark.timeout(240)
SENSOR = ("--sensor", "20C=2.5k,80C=310")
SCRIPT = """\
wait 5
status
now
wait 30
mark
open 600
wait 15
note rain
status
ease
wait 30
yes
case Van 7
wait 3
weigh
next
wait 20
status
follow
wait 40
"""
CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]")


def piped(tmp_path, script: str) -> str:
    """What a sitting writes into a file that is given its lines out of one; it must end by itself."""
    (tmp_path / "lines.txt").write_text(script)
    command = locum("--plain", "--board", "virtual", "--speed", "20",
                    "--casebook", str(tmp_path / "book.sqlite"), *SENSOR)  # fmt: skip
    with open(tmp_path / "lines.txt") as lines, open(tmp_path / "told.txt", "w") as told:
        done = subprocess.run(command, stdin=lines, stdout=told, stderr=subprocess.STDOUT,
                              env=surroundings(tmp_path), timeout=120)  # fmt: skip
    assert done.returncode == 0
    return (tmp_path / "told.txt").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """A case out of a file, and the folder of its casebook."""
    folder = tmp_path_factory.mktemp("piped")
    return piped(folder, SCRIPT), folder


def test_nothing_but_lines_of_text(told):
    assert not CONTROL.search(told[0])
    assert "Traceback" not in told[0]


def test_the_whole_job_is_done_and_kept(told):
    text, folder = told
    for said in ("connected: STAND-IN", "connected: REAL SENSOR", "case begun: Van 7", "given open, 600 ms",
                 "coincident", "following, glitches left out"):  # fmt: skip
        assert said in text, text
    with Store.open(folder / "book.sqlite") as store:
        (case,) = store.cases()
        drives = [store.drive(drive.id) for drive in store.drives(case.id)]
        assert all(drive.how == "done" for drive in drives)
        marks = [mark.kind for drive in drives for mark in store.marks(drive.id)]
        assert {"key", "note", "felt"} <= set(marks)


def test_the_end_of_the_lines_walks_home_before_it_leaves(told):
    text, folder = told
    told_last = text[text.index("No more lines: easing back") :]
    assert "easing back to the real sensor" in told_last
    assert text.rstrip().endswith("recording ended; safe: the REAL SENSOR is connected")
    with Store.open(folder / "book.sqlite") as store:
        last = max((store.drive(drive.id) for drive in store.drives()), key=lambda d: d.started_utc)
        assert [s.connected for s in last.stretches] == ["real", "follow", "real"]


def test_every_running_line_says_what_is_connected_and_names_its_figures(told):
    running = [line for line in told[0].split("\n") if re.match(r"\d+:\d\d  ", line)]
    assert len(running) > 8
    for line in running:
        assert re.search(r"(REAL SENSOR|STAND-IN, told \S+ C|CHANGING OVER), true (\S+ C|not measured)", line), line  # fmt: skip


def test_no_line_names_a_key_that_does_not_exist_here(told):
    assert not re.search(r"\bSpace\b|\bEsc\b|\bq leaves\b|press [a-z]\b|Enter,", told[0])


def test_a_record_that_cannot_be_written_is_told_once_and_again_when_it_can(a_glance):
    said: list[str] = []
    desk = Desk(Setup(board="virtual"), Settings())
    plain = Plain(desk, Settings(), said.append)
    for unsaved in ("", "no space left on the disk", "no space left on the disk", ""):
        desk.show(phase="recording", glance=a_glance(unsaved=unsaved, trouble=unsaved))
        plain.look()
    told = [line for line in said if "SAVED" in line or "written" in line]
    assert told == [
        "NOT SAVED: no space left on the disk; kept in memory meanwhile; "
        "free disk space, or close what holds the file: it is tried again",
        "The record is written down again.",
    ]
