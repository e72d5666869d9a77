"""Finding the board: which serial port it is, or why there is none, in plain words.

Every MicroPython board of the RP2040 family answers to the same USB numbers, so a port is only a
candidate until it has answered ``*IDN?``. Nothing but that query is ever written to a candidate,
and nothing at all to a port with other USB numbers unless the user names it. A board is remembered
by its USB serial number, never by the port's name, which changes when it is plugged in elsewhere.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import Any, Protocol

from locum.errors import LinkTrouble, Remark
from locum.link.port_trouble import open_trouble

USB_VENDOR = 0x2E8A
"""Raspberry Pi's USB vendor number, used by every MicroPython board of the RP2040 family."""
USB_PRODUCT_MICROPYTHON = 0x0005
"""MicroPython on an RP2040, whatever runs on top of it."""
MODEL = "locum"
"""First words of the answer to ``*IDN?`` of a board that runs our firmware."""
PROTOCOL = 1
"""Protocol number this program speaks; a board with another major number is not driven."""


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
    remark: Remark | None = None

    def as_json(self) -> dict[str, Any]:
        out = asdict(self)
        out["remark"] = self.remark.as_json() if self.remark else None
        return out


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
    remark = Remark(
        "wrong_device",
        port.device,
        "a locum board",
        f"another device that answered '{shown}'",
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
            "install the newer locum on this computer; until then the board is only read",
        )
        return replace(board, state="newer", remark=remark)
    return board


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


def moved(before: str, now: FoundBoard) -> Remark | None:
    """Warning for a board that came back under another port name, or None."""
    if before == now.port:
        return None
    return Remark(
        "port_renamed",
        now.port,
        f"the board on {before}",
        f"the same board (serial number {now.serial_number}) on {now.port}",
        "nothing: it is followed by its serial number",
    )
