"""A board that waits for a program as a USB drive: it has no MicroPython yet, or its button was held.

The chip's own start-up code then shows a small drive with ``INFO_UF2.TXT``, and there is no serial
port. The file's form is that of the UF2 bootloaders: a first line with ``UF2``, then ``Model:`` and
``Board-ID:`` (from memory of RP2040 boards: ``RPI-RP2``). The drive is read, never written.
"""

from __future__ import annotations

import os
import string
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from locum.errors import Remark

INFO = "INFO_UF2.TXT"
RP2040 = "RPI-RP2"
"""``Board-ID`` of the chip that the firmware is made for."""
MOST_BYTES = 4096


@dataclass(frozen=True)
class BootDrive:
    """One mounted drive of a board that waits."""

    folder: str
    model: str
    board_id: str

    @property
    def fits(self) -> bool:
        return self.board_id == RP2040

    @property
    def remark(self) -> Remark:
        """What it is and what to do, step by step."""
        if not self.fits:
            return Remark(
                "boot_drive_other",
                self.folder,
                f"a Pico's start-up drive ({RP2040})",
                f"that of another board: {self.model or self.board_id or 'it names no model'}",
                "use a Raspberry Pi Pico or Pico H (RP2040); the firmware is made for its pins",
            )
        return Remark(
            "board_without_micropython",
            self.folder,
            "a board that runs MicroPython",
            "a Pico in its start-up mode: it has no MicroPython yet, or its BOOTSEL button was held",
            "copy MicroPython for the Pico (a .uf2 file, 1.28 or newer, from micropython.org) onto "
            "that drive; it vanishes and the board comes back as a port; then: locum firmware put. "
            "If MicroPython is on it already, unplug it and plug it in without the button",
        )

    def as_json(self) -> dict[str, Any]:
        return {**vars(self), "fits": self.fits, "remark": self.remark.as_json()}


def boot_drives(folders: Iterable[Path] | None = None) -> list[BootDrive]:
    """Start-up drives among these mounted folders; without them, where this system mounts."""
    found = (_read(folder) for folder in (mount_folders() if folders is None else folders))
    return [drive for drive in found if drive is not None]


def _read(folder: Path) -> BootDrive | None:
    """None for any other drive, one that went meanwhile, or one that may not be read."""
    try:
        with (folder / INFO).open("rb") as file:
            text = file.read(MOST_BYTES).decode("ascii", "replace")
    except OSError:
        return None
    if "UF2" not in text.partition("\n")[0]:
        return None
    fields = dict(line.split(":", 1) for line in text.splitlines() if ":" in line)
    model, board_id = (fields.get(name, "").strip() for name in ("Model", "Board-ID"))
    return BootDrive(str(folder), model, board_id)


def mount_folders(system: str = sys.platform, root: Path = Path("/")) -> list[Path]:
    """Where drives are mounted on this system; ``root`` is for tests."""
    if system.startswith("win"):
        return [Path(f"{letter}:\\") for letter in string.ascii_uppercase[3:]]
    if system == "darwin":
        return _below(root / "Volumes")
    places = [root / "media", root / "run/media", root / "mnt"]
    firsts = [folder for place in places for folder in _below(place)]
    return firsts + [inner for folder in firsts for inner in _below(folder)]


def _below(folder: Path) -> list[Path]:
    try:
        with os.scandir(folder) as entries:
            return sorted(Path(entry.path) for entry in entries if entry.is_dir())
    except OSError:
        return []
