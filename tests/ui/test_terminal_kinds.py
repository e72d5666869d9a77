"""What other terminals show: no colour, sixteen, a plain console, a C locale, one that can do nothing."""

from __future__ import annotations

import re
from contextlib import contextmanager

import pytest

from ui_terminal import Terminal, locum, needs_tmux, surroundings

pytestmark = pytest.mark.timeout(180)
STYLES = {"1", "4", "7", "22", "24", "27"}
BRAILLE = re.compile("[\u2801-\u28ff]")


@contextmanager
def listening(tmp_path, term: str, **environ: str):
    """The screens on such a terminal, the virtual board listening, the sensor's curve drawn."""
    needs_tmux()
    command = locum("--board", "virtual", "--speed", "5", "--sensor", "20C=2.5k,80C=310",
                    "--casebook", str(tmp_path / "book.sqlite"))  # fmt: skip
    given = surroundings(tmp_path, **environ)
    with Terminal(tmp_path, command, size=(130, 44), environ=given, term=term) as screen:
        screen.until("REAL SENSOR")
        screen.press("1")
        screen.until("cautions not read")
        screen.press("t")
        screen.type("sensor 20C=2.5k,80C=310")
        screen.until("the curve is")
        yield screen


def test_without_colours_nothing_is_coloured(tmp_path):
    with listening(tmp_path, "screen-256color", NO_COLOR="1") as screen:
        assert screen.colours() <= STYLES


def test_sixteen_colours_are_the_terminals_own(tmp_path):
    with listening(tmp_path, "xterm-16color") as screen:
        others = screen.colours() - STYLES
        assert others
        assert all(re.fullmatch("[349]\\d|10[0-7]", code) for code in others), others


def test_a_console_has_no_braille(tmp_path):
    with listening(tmp_path, "linux") as screen:
        assert not BRAILLE.search(screen.text())
    (tmp_path / "other").mkdir()
    with listening(tmp_path / "other", "screen-256color") as screen:
        assert BRAILLE.search(screen.text()), "where it is safe it is used"


def test_in_a_locale_without_unicode_everything_is_plain_letters(tmp_path):
    with listening(tmp_path, "screen-256color", LC_ALL="C") as screen:
        assert screen.text().isascii()


def test_a_terminal_that_can_do_nothing_is_told_of_the_other_way(tmp_path):
    needs_tmux()
    with Terminal(tmp_path, locum("--board", "virtual"), environ=surroundings(tmp_path), term="dumb") as screen:  # fmt: skip
        screen.until(lambda: screen.ended() is not None)
        assert screen.ended() == 2
        assert "locum --plain" in screen.past()
