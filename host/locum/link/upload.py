"""Putting the firmware on a board: by a manifest, beside the old one, verified, then switched.

Layout on the board's file system. The root holds only ``main.py``, a few lines that start the
version named in ``active.txt`` and fall back to ``previous.txt`` if that cannot be imported::

    main.py           the starter; written once, replaced only if its own hash differs
    active.txt        name of the folder to start, such as v-3f2a9c41
    previous.txt      the folder that last answered
    v-3f2a9c41/       one complete firmware: drivers/, locum_board/ (.py, or .mpy compiled), board.json

A new version is copied into a folder of its own, every file is read back as SHA-256, and only then
``active.txt`` is renamed into place: one rename decides. Pulled cables, at any moment, leave
either the old version or the new one. Once the new one has answered ``*IDN?`` the old folder goes.
"""

from __future__ import annotations

import contextlib
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from locum.errors import LinkTrouble, Refused, Remark
from locum.link.board_files import copy, differing, verify
from locum.link.manifest import (
    Compiler,
    FirmwareFile,
    Manifest,
    build_manifest,
    for_board,
    maybe_compiler,
    speaks,
)
from locum.link.mpremote_runs import (
    CLEAR,
    LOOK,
    SWITCH,
    Mpremote,
    Runner,
    run_mpremote,
)
from locum.link.ports import (
    Opener,
    Port,
    candidate_ports,
    list_ports,
    no_board,
    open_serial,
    probe,
)
from locum.locations import asset_root

__all__ = ["UploadReport", "build_manifest", "put_firmware", "speaks"]


@dataclass(frozen=True)
class UploadReport:
    """What ``locum firmware put`` did."""

    port: str
    version: str
    files: int
    bytes: int
    """What was sent, sources or compiled."""
    compiled: bool
    """Sent compiled, which spares the board the work and memory; only where its MicroPython takes it."""
    replaced: str
    """Version that was active before, empty if none."""
    unchanged: bool
    """True if the board had this very version already, verified again."""
    identity: str
    """The new firmware's answer to ``*IDN?``."""


SETTLE_S = 1.0
"""Between tries to reach a board that is starting. [s]"""
STARTING_S = 30.0
"""A Pico compiles the firmware when it starts; longer than this and it does not start. [s]"""


def put_firmware(
    port: str | None = None,
    board_id: str = "reference",
    *,
    runner: Runner = run_mpremote,
    opener: Opener = open_serial,
    ports: list[Port] | None = None,
    wait: Callable[[float], None] = time.sleep,
    root: Path | None = None,
    compiler: Compiler | None = None,
) -> UploadReport:
    """Put the firmware on a board: copy beside the old one, verify, switch, see it answer.

    Raises
    ------
    LinkTrouble
        No board, a board that cannot be reached, a copy that does not verify, or a new version
        that does not answer (the board has then been switched back). In every case the version
        that was there before still starts.
    Refused
        The board is standing in: end that first.
    """
    device = _port_for(port, ports)
    sources, starter = build_manifest(root or asset_root("firmware_micropython"), board_id)
    answered = _ask_for_prompt(device, opener, wait)
    board = Mpremote(device, runner)
    there = board.program(LOOK)
    before, last = (
        there[k] if there[k] in there["folders"] else "" for k in ("active", "previous")
    )
    _check_board(device, there)
    with tempfile.TemporaryDirectory() as scratch:
        compiler = compiler or maybe_compiler()
        manifest = for_board(sources, there["mpy"], compiler, Path(scratch))
        # A version that was switched to and never answered is no reason to drop the one before it.
        kept = (before, manifest.version, "" if answered else last)
        _put_beside(board, manifest, starter, there["folders"], kept)
    unchanged = before == manifest.version
    _switch_to(board, manifest.version, "" if unchanged else before, starter="main.new")
    identity = _wait_for_answer(device, opener, wait, ports)
    if not identity:
        back_to = last if unchanged else before
        _switch_back(board, back_to)
        raise LinkTrouble(_no_answer(device, back_to))
    return UploadReport(
        device, manifest.version, len(manifest.files), sum(file.size for file in manifest.files),
        manifest.compiled, before, unchanged, identity,
    )  # fmt: skip


def _put_beside(
    board: Mpremote,
    manifest: Manifest,
    starter: FirmwareFile,
    folders: list[str],
    kept: tuple[str, ...],
) -> None:
    """Copy a version into a folder of its own, unless it is there whole, and verify it.

    Folders that are not to be kept go first, to make room.
    """
    stale = [name for name in folders if name not in kept]
    if stale:
        board.program(CLEAR % (stale,))
    if manifest.version not in folders or differing(board, manifest):
        copy(board, manifest)
    verify(board, manifest, starter)


def _switch_to(board: Mpremote, version: str, before: str, *, starter: str = "") -> None:
    """Make a version the one that starts, and start it."""
    board.program(SWITCH % {"starter": starter, "before": before, "active": version})
    board.run("reset")


def _no_answer(device: str, before: str) -> Remark:
    return Remark(
        "firmware_does_not_answer",
        device,
        "the new firmware's answer to *IDN?",
        f"none within {STARTING_S:g} s",
        f"the board was switched back to {before}" if before else "try again",
    )


def _port_for(port: str | None, ports: list[Port] | None) -> str:
    if port:
        return port
    found = candidate_ports(ports)
    if len(found) == 1:
        return found[0].device
    if not found:
        raise LinkTrouble(no_board())
    names = ", ".join(item.device for item in found)
    raise LinkTrouble(
        Remark("several_boards", "", "one board", names, "say which: locum firmware put PORT")
    )


def _ask_for_prompt(device: str, opener: Opener, wait: Callable[[float], None]) -> bool:
    """Ask a running firmware to leave for the prompt, where a bare board is already; whether one ran."""
    port = next((port for port in list_ports() if port.device == device), Port(device))
    found = probe(port, opener)
    anothers = found.state == "other" and not port.is_candidate
    if (anothers or found.state in ("busy", "denied", "gone")) and found.remark is not None:
        raise LinkTrouble(found.remark)
    if found.state not in ("ready", "old", "newer"):
        return False
    line = opener(device)
    try:
        line.write(b"DIAG:MAIN;:SYST:ERR?\n")
        answer = line.read(1.0)
    except OSError:
        answer = b""  # it has started afresh to get there, and the port with it
    finally:
        line.close()
    if answer and not answer.startswith((b"0,", b">>>", b"MicroPython", b"\r\n")):
        raise Refused(
            Remark(
                "board_stands_in",
                device,
                "a board at rest",
                answer.decode("ascii", "replace").strip(),
                "end what runs ('locum' and Escape, or the rest switch), then run this again",
            )
        )
    wait(SETTLE_S)
    return True


def _check_board(device: str, there: dict[str, Any]) -> None:
    version = tuple(there["version"])
    if version < (1, 25, 0):
        found = ".".join(str(part) for part in version)
        raise Refused(
            Remark(
                "micropython_old",
                device,
                "MicroPython 1.28 or newer (1.25 at least)",
                f"MicroPython {found}",
                "put a newer MicroPython on the board first: hold BOOTSEL, plug it in, copy the file",
            )
        )


def _wait_for_answer(
    device: str, opener: Opener, wait: Callable[[float], None], ports: list[Port] | None
) -> str:
    """``*IDN?`` of the board once it has started; empty if it does not. Its port may be renamed."""
    waited_s = 0.0
    while waited_s < STARTING_S:
        wait(SETTLE_S)
        waited_s += SETTLE_S
        tried = [device] + [p.device for p in candidate_ports(ports) if p.device != device]
        for name in tried[:2]:
            found = probe(Port(name), opener, tries=1)
            if found.state in ("ready", "newer"):
                return f"{found.model},{found.serial_number},{found.firmware}"
    return ""


def _switch_back(board: Mpremote, before: str) -> None:
    if not before:
        return
    # If even that fails: the starter falls back by itself if the new version cannot be imported.
    with contextlib.suppress(LinkTrouble):
        _switch_to(board, before, "")
