"""What stands behind a port, judged by what came back for ``*IDN?``, and whether it fits us.

The program carries a firmware of its own; a board that runs another one still works as long as both
speak the same protocol, and is told to be behind or ahead.
"""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass, replace
from typing import Any

from locum.errors import Remark
from locum_board import FIRMWARE, PROTOCOL

USB_VENDOR = 0x2E8A
"""Raspberry Pi's USB vendor number, used by every MicroPython board of the RP2040 family."""
USB_PRODUCT_MICROPYTHON = 0x0005
"""MicroPython on an RP2040, whatever runs on top of it."""
MODEL = "locum"
"""First words of the answer to ``*IDN?`` of a board that runs our firmware."""


@dataclass(frozen=True)
class Port:
    """A serial port as the operating system lists it."""

    device: str
    """Name to open, such as ``/dev/ttyACM0`` or ``COM5``."""
    vendor: int | None = None
    product: int | None = None
    serial_number: str = ""
    description: str = ""

    @property
    def is_candidate(self) -> bool:
        return self.vendor == USB_VENDOR and self.product == USB_PRODUCT_MICROPYTHON


@dataclass(frozen=True)
class FoundBoard:
    """What stands behind one port."""

    port: str
    state: str
    """``ready``, ``bare`` (MicroPython without our firmware), ``old``, ``newer``, ``busy``,
    ``denied``, ``gone``, ``silent`` or ``other``."""
    serial_number: str = ""
    model: str = ""
    firmware: str = ""
    protocol: int | None = None
    """Major number; the minor one only ever adds commands."""
    remark: Remark | None = None

    def as_json(self) -> dict[str, Any]:
        out = asdict(self)
        out["remark"] = self.remark.as_json() if self.remark else None
        return out


def judge_answer(port: Port, answer: bytes) -> FoundBoard:
    """What the bytes that came back for ``*IDN?`` say about the thing on this port."""
    here = FoundBoard(port.device, "other", port.serial_number)
    fields = identity_fields(answer)
    if fields is not None:
        return _our_board(here, fields)
    if b">>>" in answer or b"Traceback" in answer or b"SyntaxError" in answer:
        remark = Remark(
            "board_without_firmware",
            port.device,
            "a board that runs the locum firmware",
            "a MicroPython board without it",
            f"put it on: locum firmware put {port.device}",
        )
        return replace(here, state="bare", remark=remark)
    if not answer:
        remark = Remark(
            "board_silent",
            port.device,
            "an answer to *IDN?",
            "no answer" if port.is_candidate else "no answer from a port that is not a board's",
            "unplug the board, hold its button, plug it in, then: locum firmware put " + port.device
            if port.is_candidate
            else "name the board's own port; 'locum find' lists them",
        )
        return replace(here, state="silent", remark=remark)
    shown = answer[:40].decode("ascii", "replace").strip()
    said = (
        f"answered '{shown}'" if shown.isprintable() and "\ufffd" not in shown else "sends no text"
    )
    remark = Remark(
        "wrong_device",
        port.device,
        "a locum board",
        f"another device, which {said}",
        "name the board's own port; 'locum find' lists them",
    )
    return replace(here, remark=remark)


def identity_fields(answer: bytes) -> tuple[str, str, str, str] | None:
    """The four fields of an answer to ``*IDN?`` that is ours, or None."""
    for raw in answer.splitlines():
        fields = [f.strip() for f in raw.decode("ascii", "replace").split(",")]
        if len(fields) == 4 and fields[0].lower().startswith(MODEL):
            return fields[0], fields[1], fields[2], fields[3]
    return None


def protocol_number(firmware_field: str) -> int | None:
    """The protocol's major number in the fourth field, such as 1 in ``0.1.0/P1.0/8213``."""
    match = re.search(r"/P(\d+)\.", firmware_field)
    return int(match.group(1)) if match else None


def _our_board(here: FoundBoard, fields: tuple[str, str, str, str]) -> FoundBoard:
    _, model, serial_number, last = fields
    number = protocol_number(last)
    board = replace(
        here,
        state="ready",
        model=model,
        serial_number=serial_number or here.serial_number,
        firmware=last.split("/")[0],
        protocol=number,
    )
    if number is None or number < PROTOCOL:
        found = "one that names none" if number is None else f"protocol {number}"
        remedy = f"bring the board up to date: locum firmware put {here.port}"
        remark = Remark("firmware_old", here.port, f"protocol {PROTOCOL}", found, remedy)
        return replace(board, state="old", remark=remark)
    if number > PROTOCOL:
        remark = Remark(
            "firmware_newer",
            here.port,
            f"protocol {PROTOCOL}",
            f"protocol {number}",
            "install the newer locum on this computer; until then the board is left alone",
        )
        return replace(board, state="newer", remark=remark)
    return replace(board, remark=_behind(board))


def _behind(board: FoundBoard) -> Remark | None:
    """Same protocol, but an older firmware than this program carries: it works, and is named."""
    theirs, ours = release(board.firmware), release(FIRMWARE)
    if theirs is None or ours is None or theirs >= ours:
        return None
    return Remark(
        "firmware_behind",
        board.port,
        f"firmware {FIRMWARE}, which this program carries",
        f"firmware {board.firmware}, which still works",
        f"when there is time: locum firmware put {board.port}",
    )


def release(text: str) -> tuple[int, ...] | None:
    """``0.10.2`` as numbers to compare; None if it is not made of numbers."""
    parts = text.split(".")
    return tuple(int(part) for part in parts) if all(p.isdecimal() for p in parts) else None
