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

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path


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
