"""A terminal of a test's own (tmux), worked by keys and read as text, as a person would."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pytest

from locum.bodies.remote_engine import interpreter_path
from locum.errors import LinkTrouble

TESTS = Path(__file__).parent
HOST = Path(__import__("locum").__file__).parents[1]
ENGINE = Path(__import__("locum_board").__file__).parents[1]
POLL_S = 0.05


def needs_tmux() -> None:
    """Skip, with the reason, where there is no tmux or no MicroPython."""
    if shutil.which("tmux") is None:
        pytest.skip("needs tmux (a Debian package)")


def needs_micropython() -> None:
    try:
        interpreter_path("micropython")
    except LinkTrouble as trouble:
        pytest.skip(str(trouble))


def surroundings(home: Path, **more: str) -> dict[str, str]:
    """The environment of a program with nobody's casebook, settings or pages but its own."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "TMPDIR") if name in os.environ}
    folders = {f"XDG_{name.upper()}_HOME": str(home / name)
               for name in ("data", "config", "state", "cache")}  # fmt: skip
    path = os.pathsep.join(map(str, (HOST, ENGINE, TESTS)))
    return {**kept, **folders, "PYTHONPATH": path, "LC_ALL": "C.UTF-8", **more}


def locum(*arguments: str) -> list[str]:
    """The command line of the program under test."""
    return [sys.executable, "-m", "locum.cli", *arguments]


def split_codes(codes: str) -> list[str]:
    """``1;38;5;144`` as ``1`` and ``38;5;144``."""
    return re.findall(r"[34]8;5;\d+|[34]8;2;\d+;\d+;\d+|\d+", codes)


class Terminal:
    """One program in one terminal; a context manager that leaves nothing behind."""

    def __init__(
        self, folder: Path, command: Sequence[str], size: tuple[int, int] = (80, 24),
        environ: Mapping[str, str] | None = None, term: str = "screen-256color",
    ) -> None:  # fmt: skip
        self._socket = str(folder / "tmux.socket")
        self._environ = {**(environ or surroundings(folder)), "TERM": term}
        configuration = folder / "tmux.conf"
        configuration.write_text(
            f"set -g default-terminal {term}\nset -g status off\nset -g remain-on-exit on\n"
        )
        width, height = map(str, size)
        self._tmux("-f", str(configuration), "new-session", "-d", "-s", "locum", "-x", width, "-y", height,
                   *self._sets(), *command)  # fmt: skip
        self.process_id = int(self._tmux("list-panes", "-F", "#{pane_pid}"))

    def _sets(self) -> list[str]:
        return [part for name, value in self._environ.items() for part in ("-e", f"{name}={value}")]

    def _tmux(self, *arguments: str) -> str:
        done = subprocess.run(["tmux", "-S", self._socket, *arguments], check=True, text=True,
                              stdout=subprocess.PIPE, env={**self._environ, "TERM": "screen"})  # fmt: skip
        return done.stdout

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        subprocess.run(["tmux", "-S", self._socket, "kill-server"], check=False,
                       stderr=subprocess.DEVNULL)  # fmt: skip

    # -- working it ------------------------------------------------------------------------------

    def press(self, *keys: str) -> None:
        """Keys by tmux's names: ``Space``, ``Enter``, ``C-c``, ``m``."""
        self._tmux("send-keys", "-t", "locum", *keys)

    def type(self, line: str) -> None:
        """A line and Enter."""
        if line:
            self._tmux("send-keys", "-t", "locum", "-l", line)
        self.press("Enter")

    def resize(self, width: int, height: int) -> None:
        self._tmux("resize-window", "-t", "locum", "-x", str(width), "-y", str(height))

    def signal(self, number: signal.Signals) -> None:
        """Send a signal to the program."""
        os.kill(self.process_id, number)

    def close(self) -> None:
        """Close the terminal under the running program, as somebody who clicks it away."""
        self._tmux("kill-server")

    # -- reading it ------------------------------------------------------------------------------

    def text(self) -> str:
        """What stands on it, row by row."""
        return self._tmux("capture-pane", "-p", "-t", "locum").rstrip("\n")

    def past(self) -> str:
        """What stands on it and what has run off its top, in one line."""
        return " ".join(self._tmux("capture-pane", "-p", "-S", "-", "-t", "locum").split())

    def colours(self) -> set[str]:
        """The codes by which text is drawn there: ``1`` bold, ``7`` reversed, ``38;5;144`` a colour."""
        drawn = self._tmux("capture-pane", "-p", "-e", "-t", "locum")
        codes = {
            code for found in re.findall(r"\x1b\[([\d;]*)m", drawn) for code in split_codes(found)
        }
        return codes - {"", "0", "39", "49"}

    def flat(self) -> str:
        """The same in one line, so that words are found wherever a row was broken."""
        return " ".join(self.text().split())

    def ended(self) -> int | None:
        """The program's exit code, negative if a signal ended it, None while it runs."""
        fields = "#{pane_dead}:#{pane_dead_status}:#{pane_dead_signal}"
        dead, status, killed = (
            self._tmux("list-panes", "-t", "locum", "-F", fields).strip().split(":")
        )
        if dead != "1":
            return None
        if not (status or killed):  # ended, and tmux missed the signal that says so: told again
            os.kill(int(self._tmux("display-message", "-p", "#{pid}")), signal.SIGCHLD)
            return None
        return int(status) if status else -int(killed)

    def until(self, wanted: str | Callable[[], bool], seconds: float = 60.0) -> str:
        """Look until these words stand there (or it holds); the text. Fails with the screen's text."""
        holds = wanted if callable(wanted) else lambda: wanted in self.flat()
        end_s = time.monotonic() + seconds
        while not holds():
            if time.monotonic() > end_s:
                said = wanted if isinstance(wanted, str) else "what was waited for"
                raise AssertionError(f"never came: {said}; the screen:\n{self.text()}")
            time.sleep(POLL_S)
        return self.text()

    def seconds_until_gone(self, patience_s: float = 10.0) -> float:
        """How long from now till the program has ended. [s]"""
        began_s = time.monotonic()
        self.until(lambda: self.ended() is not None, patience_s)
        return time.monotonic() - began_s
