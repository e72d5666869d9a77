"""Checkup: is everything here that a drive needs, and if not, what exactly to do about it.

Looks, changes nothing, and asks nothing that a board at work would mind. What is plugged in stands in
``checkup_board.py``, this computer here; ``--bundle`` packs what was found (``checkup_bundle.py``).
"""

from __future__ import annotations

import os
import platform
import sqlite3
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from locum import __version__, locations
from locum.jobs.checkup_board import pi_checks, port_checks
from locum.jobs.checkup_bundle import pack
from locum.jobs.checkup_look import Check, Surroundings
from locum.jobs.files import is_there

__all__ = ["Check", "CheckupResult", "Surroundings", "checkup"]

FREE_BYTES = 500_000_000
"""An eight hour drive takes about 31 MB; a casebook, reports and their copies need air."""
BAD_TERMINALS = ("dumb", "")


@dataclass(frozen=True)
class CheckupResult:
    """All checks, in the order a person would mend them."""

    checks: tuple[Check, ...]
    bundle: str | None = None
    """Absolute path of the packed log and checks, without anybody's identity."""

    @property
    def passed(self) -> bool:
        return all(check.passed for check in self.checks)

    def as_json(self) -> dict[str, Any]:
        rows = [vars(check) for check in self.checks]
        return {"ok": self.passed, "checks": rows, "bundle": self.bundle}


def checkup(
    board: str | None = None,
    casebook: str | None = None,
    bundle: str | None = None,
    around: Surroundings | None = None,
) -> CheckupResult:
    """Look at everything; pack it if ``bundle`` names a file.

    ``board`` limits the look at ports to one; ``virtual`` and ``pi`` look at no port.
    """
    around = around or Surroundings()
    checks = [
        _versions(),
        *port_checks(board, around),
        *(pi_checks(around) if board == "pi" else []),
        _terminal(around),
        _glyphs(around),
        _disk(around),
        _casebook(casebook),
    ]
    packed = pack(Path(bundle), checks) if bundle else None
    return CheckupResult(tuple(checks), packed)


def _versions() -> Check:
    from locum_board import FIRMWARE, PROTOCOL

    found = (
        f"locum {__version__}, firmware {FIRMWARE}, protocol {PROTOCOL}, "
        f"Python {platform.python_version()}, {platform.system()} {platform.release()}"
    )
    passed = sys.version_info >= (3, 11)
    return Check("versions", passed, found if passed else found + ": install Python 3.11 or newer")


# -- this computer --------------------------------------------------------------------------------


def _terminal(around: Surroundings) -> Check:
    term = around.environment.get("TERM", "")
    if around.system.startswith("win"):
        modern = "WT_SESSION" in around.environment
        text = "Windows Terminal" if modern else "an old console: install Windows Terminal"
        return Check("terminal", modern, text)
    if term in BAD_TERMINALS:
        shown = term or "none set"
        return Check(
            "terminal", False, f"TERM is '{shown}': the screens need another; commands work anyway"
        )
    colours = "24-bit" if around.environment.get("COLORTERM") else "256 or fewer"
    over = ", over ssh" if around.environment.get("SSH_CONNECTION") else ""
    return Check("terminal", True, f"{term}, {colours} colours{over}")


def _glyphs(around: Surroundings) -> Check:
    """Whether the terminal takes the blocks that curves are drawn with."""
    sample = "▁▂▃▄▅▆▇█ ▀▄ ⡠⠔⠉"
    try:
        sample.encode(around.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return Check(
            "glyphs",
            False,
            f"this terminal's encoding is {around.encoding or 'unknown'}: set a UTF-8 locale, such "
            "as LANG=C.UTF-8; without it curves are drawn in plain letters",
        )
    return Check("glyphs", True, f"you should see rising blocks, half blocks and a curve: {sample}")


def _disk(around: Surroundings) -> Check:
    try:
        folder = around.data_folder()
        probe = folder / f".checkup-{os.getpid()}"
        probe.write_bytes(b"locum")
        probe.unlink()
    except OSError as error:
        where = getattr(error, "filename", None) or "its folder"
        return Check("disk", False, f"cannot write to {where}: {error.strerror or error}")
    free = around.free_bytes(folder)
    shown = f"{free / 1e9:.1f} GB free in {folder}"
    if free < FREE_BYTES:
        return Check("disk", False, f"{shown}: make room, at least {FREE_BYTES / 1e9:.1f} GB")
    return Check("disk", True, shown)


def _casebook(casebook: str | None) -> Check:
    """Opened for reading only: a checkup must not migrate or create a casebook."""
    path = Path(casebook) if casebook else locations.casebook_path()
    if not is_there(path):
        return Check("casebook", True, f"none yet; it is made with the first recording: {path}")
    try:
        connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=5)
        try:
            verdict = connection.execute("PRAGMA quick_check(3)").fetchall()
        finally:
            connection.close()
    except sqlite3.Error as error:
        return Check(
            "casebook", False, f"{path} cannot be read ({error}): name another with --casebook"
        )
    if verdict != [("ok",)]:
        return Check(
            "casebook",
            False,
            f"{path} is damaged ({verdict[0][0]}): keep it, and restore the last copy",
        )
    return Check("casebook", True, f"{path} is whole, {path.stat().st_size / 1e6:.1f} MB")
