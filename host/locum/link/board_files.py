"""The firmware's files on a board: which differ, copying them, and reading all of them back."""

from __future__ import annotations

import hashlib
import json

from locum.errors import LinkTrouble, Remark
from locum.link.manifest import FirmwareFile, Manifest
from locum.link.mpremote_runs import HASH, MAKE, Mpremote


def _board_file(manifest: Manifest) -> str:
    """What MAKE writes beside the files, so that the firmware knows which board it is on."""
    return json.dumps({"id": manifest.board_id})


def _wanted(manifest: Manifest) -> dict[str, str]:
    """Path on the board -> SHA-256 of what is to be there."""
    folder = manifest.version
    told = hashlib.sha256(_board_file(manifest).encode()).hexdigest()
    files = {f"{folder}/{file.name}": file.sha256 for file in manifest.files}
    return {**files, f"{folder}/board.json": told}


def differing(board: Mpremote, manifest: Manifest, more: dict[str, str] | None = None) -> list[str]:
    """Paths on the board that are not as they should be."""
    wanted = {**_wanted(manifest), **(more or {})}
    found = board.program(HASH % (list(wanted),))
    return [name for name, sha256 in wanted.items() if found.get(name) != sha256]


def copy(board: Mpremote, manifest: Manifest) -> None:
    folder, files = manifest.version, manifest.files
    inner = sorted({f"{folder}/{file.name.rpartition('/')[0]}" for file in files})
    board.program(MAKE % ([folder, *inner], f"{folder}/board.json", manifest.board_id))
    board.copy([(file.source, f"{folder}/{file.name}") for file in files])


def verify(board: Mpremote, manifest: Manifest, starter: FirmwareFile) -> None:
    """The starter beside the one in use, and every file read back."""
    board.copy([(starter.source, "main.new")])
    wrong = differing(board, manifest, {"main.new": starter.sha256})
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
