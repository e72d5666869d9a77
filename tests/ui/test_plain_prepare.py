"""Prepare line by line: the module's readings, the lines' lesson, plan and self-test, through a pipe."""

from __future__ import annotations

import re

import pytest

from locum.jobs.desk import Desk, Setup
from locum.jobs.lesson import Lesson
from locum.settings import Settings
from locum.ui.plain import Plain
from locum.ui.plain_instead import in_lines
from locum.ui.plain_prepare import HELP, WORDS
from locum.ui.prepare_text import row_text
from ui_plain import told_of

pytestmark = pytest.mark.timeout(180)
SENSOR = ("--sensor", "20C=2.5k,80C=310")


class Quiet(Desk):
    """A desk without a board that keeps what it was told."""

    def __init__(self, book: str, unit: str = "celsius") -> None:
        super().__init__(Setup(casebook=book), Settings(unit=unit))
        self.took: list[Setup] = []

    def tell(self, setup: Setup) -> None:
        self.setup = setup
        self.took.append(setup)


@pytest.fixture
def sitting(tmp_path):
    """``sitting(unit)``: (line by line without a board, what it said)."""

    def opened(unit: str = "celsius") -> tuple[Plain, list[str]]:
        said: list[str] = []
        desk = Quiet(str(tmp_path / "book.sqlite"), unit)
        return Plain(desk, desk.settings, said.append), said

    return opened


def test_the_readings_of_the_module_are_asked_for_one_at_a_time(sitting):
    plain, said = sitting()
    for line in ("readings", "5.02", "2.4", "2.4k", "oops", "2.37", "back", "2,37 V", ""):
        plain.take(line)
    told = "\n".join(said)
    assert "volts between the plug's two pins?" in told
    assert "or is it 2.4k?" in told
    assert "2370 mV, found 'oops'" in told
    assert "taken back" in told
    assert "pull-up 2.68 kohm +-41 ohm to 5.02 V" in told
    assert "wiper 4" in told
    assert len(plain.desk.took) == 1
    assert "measured-" in (plain.desk.setup.module or "")
    assert plain.dialogue is None, "lines are orders again"


def test_the_questions_can_be_left_and_nothing_is_kept(sitting):
    plain, said = sitting()
    for line in ("readings", "5.02", "stop", "rows"):
        plain.take(line)
    assert not plain.desk.took
    assert "cautions" in said[-1]


def test_bare_temperatures_are_in_the_unit_of_the_settings(sitting):
    plain, said = sitting("fahrenheit")
    plain.take("sensor 68=2.5k,176=310")
    assert plain.desk.setup.sensor == "20C=2500ohm,80C=310ohm"
    assert "2.50 kohm at 68.0 F, 310 ohm at 176.0 F" in said[-1]


def test_no_key_of_the_screens_is_told_where_a_word_is_typed(sitting):
    from locum.jobs.prepare_view import rows

    plain, _ = sitting()
    found = rows(plain.desk.snapshot(), False)
    told = in_lines("\n".join(row_text(row) for row in found))
    assert not re.search(
        r"(^|\s)(r|d|p|a|s|K)( asks|:| learns| chooses| tests)", told, re.MULTILINE
    ), told
    assert "readings: one at a time" in told
    assert "lesson: learn it by driving" in told


def test_every_word_of_the_help_is_one_that_is_taken():
    for words, _ in HELP:
        for word in words.replace(" ...", "").split(","):
            assert word.split()[0] in WORDS, word


def test_a_lesson_needs_a_beginning_and_a_name_that_it_knows(sitting):
    plain, said = sitting()
    for line in ("in", "learned", "unsay", "take"):
        plain.take(line)
    assert all("type: lesson" in line.lower() for line in said)
    plain.lesson = Lesson()
    for line in ("1 clutch", "", "top", "open", ""):
        plain.lesson.answer(line)
    plain.take("in third")
    assert "top, open" in said[-1]
    plain.take("in op")
    assert "running recording" in said[-1], "without a record nothing is said"


def test_a_lesson_a_plan_and_a_self_test_through_a_pipe(tmp_path):
    """For its first minute the virtual van's clutch is released: line 1 is off."""
    script = (
        "wait 3\nlesson\n\nlocked = converter clutch on\nopen\n\nwait 20\nin\nlearned\ntake\n"
        "plan warm_hold\nwait 3\ntest\nrows\nquit\n"
    )
    told = told_of(tmp_path, script, *SENSOR)
    assert "Drive until it is: open" in told
    assert "the lines now: converter clutch off" in told
    assert "said: open" in told
    assert "open: converter clutch off" in told
    assert "a kick-out is the loss of 'locked'" in told
    assert "warm_hold: 25 steps, 20 min" in told
    assert "self-test   ready" in told
