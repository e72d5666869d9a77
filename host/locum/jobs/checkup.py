"""Checkup: is everything here that a drive needs, and if not, what exactly to do about it.

Looks, changes nothing, and asks nothing that a board at work would mind. ``--bundle`` packs what
was found (``checkup_bundle``).
"""

from __future__ import annotations

import importlib.util
import os
import platform
import shutil
import sqlite3
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from locum import __version__, locations
from locum.bodies.pace import Reached
from locum.errors import LocumError, Remark
from locum.jobs.checkup_bundle import pack
from locum.jobs.files import is_there
from locum.link import ports as port_list
from locum.link.boot_drive import BootDrive, boot_drives

FREE_BYTES = 500_000_000
"""An eight hour drive takes about 31 MB; a casebook, reports and their copies need air."""
FEWEST_HZ = 300.0
"""Below it a 10 ms bucket rests on fewer than three readings. [1/s]"""
LONGEST_GAP_MS = 100.0
"""The coil is let go after 250 ms without its pump, with room to spare. [ms]"""
BAD_TERMINALS = ("dumb", "")
SHUT = ("denied", "busy", "gone")
"""States of a port that does not open: nothing can be said of what is behind it."""


@dataclass(frozen=True)
class Check:
    """One thing looked at."""

    name: str
    passed: bool
    detail: str
    """What was found; when it did not pass, what to do, as a command where there is one."""


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


@dataclass
class Surroundings:
    """What the checks look at; tests put their own in."""

    ports: Callable[[], list[port_list.Port]] = port_list.list_ports
    boot_drives: Callable[[], list[BootDrive]] = boot_drives
    opener: port_list.Opener = port_list.open_serial
    environment: Mapping[str, str] = field(default_factory=lambda: os.environ)
    encoding: str = field(default_factory=lambda: getattr(sys.stdout, "encoding", "") or "")
    free_bytes: Callable[[Path], int] = lambda path: shutil.disk_usage(path).free
    data_folder: Callable[[], Path] = locations.data_folder
    pi_pace: Callable[[dict[str, Any]], Reached] = lambda sheet: _pi_pace(sheet)
    modules: Callable[[str], bool] = lambda name: importlib.util.find_spec(name) is not None
    system: str = sys.platform


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
        *_port_checks(board, around),
        *(_pi_checks(around) if board == "pi" else []),
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


# -- ports and boards -----------------------------------------------------------------------------


def _port_checks(board: str | None, around: Surroundings) -> list[Check]:
    if board in ("virtual", "pi"):
        return []
    candidates = port_list.candidate_ports(around.ports())
    if board:
        candidates = [p for p in candidates if p.device == board] or [port_list.Port(board)]
    if not candidates:
        waiting = [Check(f"drive {d.folder}", False, d.remark.text) for d in around.boot_drives()]
        return waiting or [Check("ports", False, port_list.no_board().text)]
    checks = []
    for port in candidates:
        found = port_list.probe(port, around.opener)
        checks += [_permission(found)]
        if found.state not in SHUT:
            checks += [_firmware(found)]
    return checks


def _permission(found: port_list.FoundBoard) -> Check:
    if found.state in SHUT and found.remark is not None:
        return Check(f"port {found.port}", False, _words(found.remark))
    number = f", serial number {found.serial_number}" if found.serial_number else ""
    return Check(f"port {found.port}", True, f"opens{number}")


def _words(remark: Remark) -> str:
    """A remark beside the name of its place, which need not be told twice."""
    return replace(remark, where="").text


def _firmware(found: port_list.FoundBoard) -> Check:
    name = f"firmware {found.port}"
    if found.remark is not None:
        return Check(name, found.state == "ready", _words(found.remark))
    return Check(name, True, f"{found.model} {found.firmware}, protocol {found.protocol}")


def _pi_checks(around: Surroundings) -> list[Check]:
    """The rate is only measured where there are pins to measure with."""
    pins = _pi(around)
    return [pins, _sampling(around)] if pins.passed else [pins]


def _pi_pace(sheet: dict[str, Any]) -> Reached:
    from locum.bodies.pi import reached_here

    return reached_here(sheet)


def _sampling(around: Surroundings) -> Check:
    """How many readings a second this Pi reaches, beside what its board sheet says."""
    from locum.jobs.circuit import open_board

    sheet, _, _ = open_board("pi")
    sampling = sheet["sampling"]
    try:
        reached = around.pi_pace(sheet)
    except LocumError as trouble:
        return Check("sampling", False, trouble.remarks[0].text)
    said = f"{reached.words}; the board sheet says {sampling['reached_hz']:.0f}"
    said += f" ({sampling['reached_from'].split(':')[0]})" if sampling["reached_from"] else ""
    passed = reached.rate_hz >= FEWEST_HZ and reached.longest_gap_ms <= LONGEST_GAP_MS
    if passed and reached.first:
        return Check("sampling", True, said)
    if passed:
        user = around.environment.get("USER") or "USER"
        return Check(
            "sampling",
            True,
            f"{said}. Steps keep time better ahead of other programs: as root write "
            f"'{user} - rtprio 20' to /etc/security/limits.d/locum.conf, then log in again",
        )
    return Check(
        "sampling",
        False,
        f"{said}. At least {FEWEST_HZ:.0f} and no gap over {LONGEST_GAP_MS:.0f} ms are needed: end "
        "other programs on this Raspberry Pi, or use a Pico, which is punctual",
    )


def _pi(around: Surroundings) -> Check:
    """The Raspberry Pi's own pins: the library, the bus, and no silent software stand-in."""
    if not around.modules("lgpio"):
        return Check("pins", False, "the library lgpio is missing; run: pip install 'locum[pi]'")
    if around.system.startswith("linux") and not Path("/dev/spidev0.0").exists():
        return Check(
            "pins",
            False,
            "hardware SPI is off; put dtparam=spi=on and dtoverlay=spi0-2cs,cs1_pin=14 into "
            "/boot/firmware/config.txt, then restart",
        )
    return Check("pins", True, "lgpio and hardware SPI are there")


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
