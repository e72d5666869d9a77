"""Opening a board: a serial port, a served link, a Raspberry Pi's own pins, or the virtual one."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from locum.errors import LinkTrouble, Misuse, Remark
from locum.link.board import Abilities, Board, Identity
from locum.link.clock import Clock, RealClock, VirtualClock
from locum.link.reach import PathReach, Reach, SerialReach
from locum.link.transports import InProcessTransport, Transport

VIRTUAL = "virtual"


@dataclass
class Connection:
    """A board that has said who it is."""

    board: Board
    clock: Clock
    identity: Identity
    abilities: Abilities
    where: str
    hurried: bool = False
    """A virtual board that runs as fast as it can."""
    body: Any = None
    """The virtual body, where there is one; tests and the demo look into its world."""
    reach: Reach | None = None
    """How to get at this board again when its link is lost; None: there is no second way."""
    let_go: Callable[[], None] | None = None
    """Gives back what a board of this computer holds: a Raspberry Pi's pins."""

    @property
    def virtual(self) -> bool:
        return self.body is not None

    def close(self) -> None:
        self.board.close()
        if self.let_go is not None:
            self.let_go()


def virtual_connection(
    world, board_sheet: dict[str, Any], seed: int, speed: float | None = None,
    start_utc: datetime | None = None, monitor=None,
) -> Connection:  # fmt: skip
    """A virtual board in a given world; ``speed`` None or 0 is as fast as it goes."""
    from locum.bodies.virtual import VirtualBody
    from locum.virtual.analog import NetworkTruth

    start = start_utc or datetime.now(UTC).replace(microsecond=0)
    truth = NetworkTruth(board_sheet, seed)
    body = VirtualBody(world, truth, board_sheet, seed=seed, start_utc=start)
    if monitor is not None:
        monitor(body)
    clock = VirtualClock(body, speed or None)
    connection = _identified(InProcessTransport(body), clock, VIRTUAL, body)
    connection.hurried = not speed
    return connection


def _identified(transport: Transport, clock: Clock, where: str, body=None) -> Connection:
    board = Board(transport, clock)
    identity = board.identify()
    return Connection(board, clock, identity, board.abilities(), where, body=body)


def _desk_world(seed: int):
    """The invented van, engine running and warm enough to be interesting."""
    from locum.virtual.scenarios import make_demo_world

    world = make_demo_world(seed)
    world.tell("engine_start", cold_c=70.0)
    world.tell("drive")
    return world


def _device_of(where: str) -> str:
    """The serial port that a name of the system's stands for, such as /dev/serial/by-id/...; else as it is."""
    device = str(Path(where).resolve()) if Path(where).is_symlink() else where
    return device if _is_serial(device) else where


def _is_serial(where: str) -> bool:
    """Whether it is a serial port and no served board's link; macOS names pseudo-terminals ttys000."""
    path = Path(where)
    if path.is_symlink() or re.fullmatch(r"ttys\d+", path.name):
        return False
    return where.upper().startswith("COM") or "tty" in path.name or "cu." in path.name


def connect(
    where: str | None,
    board_sheet: dict[str, Any],
    seed: int = 1,
    speed: float | None = None,
    world=None,
) -> Connection:
    """The board at ``where``; without a place, the one that is plugged in, else the virtual one.

    Raises LinkTrouble in plain words: no such port, port busy, not a locum board.
    """
    if speed is not None and speed < 0:
        raise Misuse(Remark("speed", "--speed", "zero or more", f"{speed:g}"))
    where = where or _plugged_in() or VIRTUAL
    if where == VIRTUAL:
        return virtual_connection(world or _desk_world(seed), board_sheet, seed, speed)
    if where == "pi":
        from locum.bodies.pi import open_pi

        body = open_pi(board_sheet)
        try:
            connection = _identified(InProcessTransport(body, "pi"), RealClock(), where)
        except BaseException:
            body.close()
            raise
        connection.let_go = body.close
        return connection
    where = _device_of(where)
    reach: Reach = SerialReach(where) if _is_serial(where) else PathReach(where)
    transport = reach.open(where)
    try:
        connection = _identified(transport, RealClock(), where)
    except LinkTrouble as trouble:
        from locum.link.ports import why_not

        transport.close()
        raise why_not(where, reach.open, trouble) from trouble
    connection.reach = reach
    return connection


def _plugged_in() -> str | None:
    """The port of the only board that is plugged in; None without one. Refuses to guess of two."""
    from locum.link.ports import candidate_ports

    ports = candidate_ports()
    if len(ports) > 1:
        names = ", ".join(f"{port.device} ({port.serial_number or '?'})" for port in ports)
        raise LinkTrouble(
            Remark("several_boards", "", "one board", names, "say which one: --board PORT")
        )
    return ports[0].device if ports else None


@contextmanager
def connected(*arguments, **options) -> Iterator[Connection]:
    """:func:`connect`, closed afterwards."""
    connection = connect(*arguments, **options)
    try:
        yield connection
    finally:
        connection.close()
