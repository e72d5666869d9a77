"""Ended from outside in the middle of standing in: the real sensor comes back, the record is kept."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from contextlib import contextmanager

import pytest

from locum.casebook.store import Store
from locum.jobs.connection import connected
from locum.jobs.stored_record import chunks_of
from ui_terminal import Terminal, locum, needs_tmux, surroundings

pytestmark = pytest.mark.timeout(300)
SENSOR = ("--sensor", "20C=2.5k,80C=310")


@pytest.fixture
def server(tmp_path):
    """A served board in a process of its own, which lives on when the program that worked it has gone."""
    command = locum("serve", "--body", "virtual", "--pty", str(tmp_path / "board.link"))
    process = subprocess.Popen(command, env=surroundings(tmp_path), stderr=subprocess.PIPE, text=True)  # fmt: skip
    try:
        assert "serving" in process.stderr.readline()
        yield process
    finally:
        process.send_signal(signal.SIGCONT)
        process.terminate()
        process.wait(10)


@pytest.fixture
def board(server, tmp_path):
    """Where that board is."""
    return str(tmp_path / "board.link")


@contextmanager
def standing_in(tmp_path, board):
    """The screens in a terminal, the stand-in connected."""
    needs_tmux()
    book = str(tmp_path / "book.sqlite")
    command = locum("--board", board, "--casebook", book, *SENSOR)
    with Terminal(tmp_path, command, environ=surroundings(tmp_path)) as screen:
        screen.until("connected REAL SENSOR")
        screen.press("Enter")
        screen.type("now")
        screen.until("connected STAND-IN")
        yield screen


def wait_until_gone(process_id: int, seconds: float = 15.0) -> None:
    end_s = time.monotonic() + seconds
    while time.monotonic() < end_s:
        try:
            os.kill(process_id, 0)
        except ProcessLookupError:
            return
        time.sleep(0.05)
    raise AssertionError("the program is still there")


def assert_home_and_kept(tmp_path, board) -> None:
    """The board has the real sensor on, and the drive is whole and closed."""
    with connected(board, {}) as link:
        status = link.board.fetch()
        assert status.source == "real"
        assert status.state in ("rest", "ready"), "told to, not by its own patience with silence"
    with Store.open(tmp_path / "book.sqlite") as store:
        (drive,) = [store.drive(drive.id) for drive in store.drives()]
        assert drive.how == "done"
        assert [s.connected for s in drive.stretches] == ["real", "stand_in", "real"]
        assert sum(len(chunk.samples) for chunk in chunks_of(store, drive.id)) > 3


def test_a_terminal_that_is_closed_while_standing_in(tmp_path, board):
    with standing_in(tmp_path, board) as screen:
        screen.close()
        wait_until_gone(screen.process_id)
        assert_home_and_kept(tmp_path, board)


def test_an_order_to_end_leaves_the_terminal_in_order(tmp_path, board):
    with standing_in(tmp_path, board) as screen:
        screen.signal(signal.SIGTERM)
        screen.until(lambda: screen.ended() is not None)
        assert screen.ended() == 128 + signal.SIGTERM
        assert "STAND-IN" not in screen.text(), "back from the screens, as a shell needs it"
    assert_home_and_kept(tmp_path, board)


def test_ctrl_c_asks_and_twice_is_the_real_sensor(tmp_path, board):
    with standing_in(tmp_path, board) as screen:
        screen.press("C-c")
        screen.until("LEAVE? The stand-in is connected.")
        assert "connected STAND-IN" in screen.flat()
        screen.press("C-c")
        screen.until("connected REAL SENSOR")
        assert screen.ended() is None
        screen.press("C-c")
        assert screen.seconds_until_gone() < 2.0
    assert_home_and_kept(tmp_path, board)


def test_the_process_is_gone_within_two_seconds_on_a_port_that_has_just_gone_silent(
    tmp_path, board, server
):
    needs_tmux()
    command = locum("--board", board, "--casebook", str(tmp_path / "book.sqlite"), *SENSOR)
    with Terminal(tmp_path, command, environ=surroundings(tmp_path)) as screen:
        screen.until("connected REAL SENSOR")
        server.send_signal(signal.SIGSTOP)
        screen.press("q")
        assert screen.seconds_until_gone() < 2.0


def test_the_process_is_gone_within_two_seconds_on_a_lost_board_that_stood_in(
    tmp_path, board, server
):
    with standing_in(tmp_path, board) as screen:
        server.send_signal(signal.SIGSTOP)
        screen.until("connected LINK LOST")
        assert "the board brings the real sensor back by itself" in screen.flat()
        screen.press("q")
        assert screen.seconds_until_gone() < 2.0


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGHUP])
def test_line_by_line_is_ended_the_same(tmp_path, board, how):
    sitting = subprocess.Popen(
        locum("--plain", "--board", board, "--casebook", str(tmp_path / "book.sqlite"), *SENSOR),
        env=surroundings(tmp_path), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    sitting.stdin.write("now\n")
    sitting.stdin.flush()
    for line in sitting.stdout:
        if line.startswith("STAND-IN"):
            break
    sitting.send_signal(how)
    told, _ = sitting.communicate(timeout=20)
    assert sitting.returncode == 0
    assert "Traceback" not in told
    assert_home_and_kept(tmp_path, board)
