"""``locum find``, ``locum firmware versions`` and ``locum firmware put``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from locum import __version__
from locum.errors import LinkTrouble, Refused, Remark
from locum.jobs.cases import Document
from locum.jobs.files import is_folder
from locum.jobs.jsontext import plain_json
from locum.link.boot_drive import boot_drives
from locum_board import FIRMWARE, PROTOCOL

if TYPE_CHECKING:
    from locum.link.found_board import FoundBoard


def find(drives: Sequence[str] | None = None) -> Document:
    """Boards that answer, ports that look like one but do not, and boards without MicroPython.

    ``drives`` are folders looked at for a start-up drive instead of this system's usual ones.
    """
    from locum.link import ports

    found = ports.find_boards(opener=ports.open_serial)
    waiting = boot_drives(_folders(drives))
    nothing = [] if found or waiting else [ports.no_board().as_json()]
    return Document(
        {
            "boards": [plain_json(board) for board in found],
            "boot_drives": [drive.as_json() for drive in waiting],
            "warnings": nothing,
        }
    )


def _folders(names: Sequence[str] | None) -> list[Path] | None:
    """The named folders; Refused with every one that is none."""
    if names is None:
        return None
    wrong = [name for name in names if not is_folder(name)]
    if wrong:
        raise Refused(Remark("no_folder", name, "a folder", "none") for name in wrong)
    return [Path(name) for name in names]


@dataclass(frozen=True)
class BoardVersion:
    """What one board runs, held against what this program carries."""

    port: str
    serial_number: str
    model: str
    firmware: str
    """Its release, empty if it runs none of ours."""
    protocol: int | None
    fit: str
    """``same``, ``behind``, ``ahead`` (all three work together), ``too_old``, ``too_new``, or
    ``none``: nothing of ours answered."""
    remark: dict[str, Any] | None
    """What stands in the way or could be better, and the remedy."""

    @property
    def works(self) -> bool:
        return self.fit in ("same", "behind", "ahead")


@dataclass(frozen=True)
class FirmwareVersions:
    """``locum firmware versions``."""

    boards: tuple[BoardVersion, ...]

    @property
    def exit_code(self) -> int:
        return 0 if all(board.works for board in self.boards) else 1

    def as_json(self) -> dict[str, Any]:
        rows = [{**vars(board), "works": board.works} for board in self.boards]
        program = {"locum": __version__, "firmware": FIRMWARE, "protocol": PROTOCOL}
        return {"ok": self.exit_code == 0, "program": program, "boards": rows}


def firmware_versions(port: str | None = None) -> FirmwareVersions:
    """What the program carries, what each board runs, and whether they fit; changes nothing."""
    from locum.link import ports

    asked = [ports.Port(port)] if port else ports.candidate_ports()
    found = [ports.probe(one, ports.open_serial) for one in asked]
    return FirmwareVersions(tuple(_version(board) for board in found))


def _version(board: FoundBoard) -> BoardVersion:
    remark = board.remark.as_json() if board.remark else None
    return BoardVersion(
        board.port, board.serial_number, board.model, board.firmware, board.protocol, _fit(board),
        remark,
    )  # fmt: skip


def _fit(board: FoundBoard) -> str:
    if board.state != "ready":
        return {"old": "too_old", "newer": "too_new"}.get(board.state, "none")
    if board.remark is not None:
        return "behind"
    return "same" if board.firmware == FIRMWARE else "ahead"


def put_firmware(port: str | None = None) -> Document:
    """Write the firmware, verify it, and keep the old one until the new one answers."""
    from locum.link import ports
    from locum.link.upload import put_firmware as put

    waiting = [] if port or ports.candidate_ports() else boot_drives()
    if waiting:
        raise LinkTrouble(drive.remark for drive in waiting)
    return Document(plain_json(put(port)))
