"""Finding the board: which serial port it is, or why there is none, in plain words.

Every MicroPython board of the RP2040 family answers to the same USB numbers, so a port is only a
candidate until it has answered ``*IDN?``. Nothing but that query is ever written to a candidate,
and nothing at all to a port with other USB numbers unless the user names it. A board is remembered
by its USB serial number, never by the port's name, which changes when it is plugged in elsewhere.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Protocol

from locum.errors import LinkTrouble, Remark
from locum.link.found_board import (
    MODEL,
    PROTOCOL,
    USB_PRODUCT_MICROPYTHON,
    USB_VENDOR,
    FoundBoard,
    Port,
    judge_answer,
)
from locum.link.port_trouble import open_trouble

__all__ = [
    "MODEL", "PROTOCOL", "USB_PRODUCT_MICROPYTHON", "USB_VENDOR", "FoundBoard", "Line", "Opener",
    "Port", "candidate_ports", "choose_board", "find_boards", "judge_answer", "list_ports", "moved",
    "no_board", "open_serial", "probe",
]  # fmt: skip


class Line(Protocol):
    """The part of a transport that finding needs."""

    def write(self, data: bytes) -> None: ...
    def read(self, timeout_s: float) -> bytes: ...
    def close(self) -> None: ...


Opener = Callable[[str], Line]


def list_ports() -> list[Port]:
    """All serial ports of this computer, sorted by USB serial number then name."""
    from serial.tools.list_ports import comports

    ports = [
        Port(p.device, p.vid, p.pid, p.serial_number or "", p.description or "")
        for p in comports()
        if not (sys.platform == "darwin" and "/tty." in p.device)
    ]
    return sorted(ports, key=lambda p: (p.serial_number, p.device))


def probe(port: Port, opener: Opener, tries: int = 3) -> FoundBoard:
    """Open one port, ask who is there, close it again. Never raises for what stands there."""
    try:
        line = opener(port.device)
    except (OSError, ValueError) as error:
        return _untouchable(port, error)
    try:
        answer = _ask_identity(line, tries)
    except (OSError, ValueError) as error:
        return _untouchable(port, error)
    finally:
        line.close()
    return judge_answer(port, answer)


def _untouchable(port: Port, error: Exception) -> FoundBoard:
    remarks = getattr(error, "remarks", None)
    cause = error.__cause__ if remarks and error.__cause__ is not None else error
    remark = open_trouble(port.device, cause)
    if remark.code == "port_trouble" and remarks:
        remark = remarks[0]
    state = {"port_gone": "gone", "port_denied": "denied", "port_busy": "busy"}
    return FoundBoard(
        port.device, state.get(remark.code, "gone"), port.serial_number, remark=remark
    )


def _ask_identity(line: Line, tries: int) -> bytes:
    """Bytes that came back for ``*IDN?``; a line feed first ends whatever half line was there."""
    line.write(b"\n")
    for _ in range(50):  # a device that never stops talking is another's
        if not line.read(0.1):
            break
    heard = b""
    for _ in range(tries):
        line.write(b"*IDN?\n")
        heard = b""
        while chunk := line.read(0.4):
            heard += chunk
            if heard.endswith(b"\n") and heard.count(b",") >= 3:
                return heard
            if len(heard) > 4096 or b">>> " in heard:
                return heard
        if heard:
            break
    return heard


def open_serial(device: str) -> Line:
    """The real opener: a serial port of this computer."""
    from locum.link.serial_port import SerialTransport

    return SerialTransport(device)


def candidate_ports(ports: list[Port] | None = None) -> list[Port]:
    """Ports that may be a board's, by their USB numbers; without ``ports``, this computer's."""
    return [port for port in (list_ports() if ports is None else ports) if port.is_candidate]


def find_boards(ports: list[Port] | None = None, opener: Opener = open_serial) -> list[FoundBoard]:
    """Ask every candidate who it is; ports with other USB numbers are left alone."""
    return [probe(port, opener) for port in candidate_ports(ports)]


def choose_board(found: list[FoundBoard], remembered: str = "") -> FoundBoard:
    """The one board to work with.

    ``remembered`` is the USB or board serial number last worked with; it wins over the others
    and is recognised under a new port name.

    Raises
    ------
    LinkTrouble
        If there is none, or several and none is the remembered one, with what stands in the way
        of each port.
    """
    usable = [board for board in found if board.state in ("ready", "newer")]
    for board in usable:
        if remembered and board.serial_number == remembered:
            return board
    if len(usable) == 1:
        return usable[0]
    if usable:
        names = ", ".join(f"{b.port} ({b.serial_number})" for b in usable)
        raise LinkTrouble(
            Remark("several_boards", "", "one board", names, "say which one: --board PORT")
        )
    remarks = [board.remark for board in found if board.remark is not None]
    raise LinkTrouble(remarks or no_board())


def no_board() -> Remark:
    """No candidate port at all."""
    return Remark(
        "no_board",
        "",
        "a board on a USB port",
        "none",
        "plug it in with a USB cable that carries data, not only power; without a board, "
        "--board virtual does everything on this computer",
    )


def moved(before: str, now: str, serial: str) -> Remark | None:
    """Warning for a board that came back under another port name, or None."""
    if before == now:
        return None
    return Remark(
        "port_renamed",
        now,
        f"the board on {before}",
        f"the same board (serial number {serial}) on {now}",
        "nothing to do, it is followed by its serial number",
    )


def why_not(device: str, opener: Opener, trouble: LinkTrouble) -> LinkTrouble:
    """A board that could not be spoken with at ``device``: what finding says of it, else ``trouble``."""
    port = next((port for port in list_ports() if port.device == device), Port(device))
    found = probe(port, opener)
    return trouble if found.state == "ready" or found.remark is None else LinkTrouble(found.remark)
