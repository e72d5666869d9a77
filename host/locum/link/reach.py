"""Where a board may be found again after its link was lost.

A board is remembered by its serial numbers (USB and ``*IDN?``), never by the port's name alone,
which changes when it is plugged in elsewhere. Only ports with a board's USB numbers, and the one it
was on, are ever opened.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from locum.errors import LinkTrouble, Remark
from locum.link.adopt import another_board
from locum.link.answers import Identity
from locum.link.board import Board
from locum.link.clock import Clock
from locum.link.ports import Port, list_ports
from locum.link.transports import DescriptorTransport, Transport


class Reach(Protocol):
    """How to get at a board again; tests put their own in."""

    def places(self) -> list[str]:
        """Where it may be now, likeliest first; empty while nothing is plugged in."""
        ...

    def open(self, place: str) -> Transport:
        """Raises LinkTrouble in plain words."""
        ...


class SerialReach:
    """Serial ports: the same USB serial number under any name, then the old name, then others."""

    def __init__(
        self,
        device: str,
        ports: Callable[[], list[Port]] = list_ports,
        opener: Callable[[str], Transport] | None = None,
    ) -> None:
        self._device = device
        self._ports = ports
        self._opener = opener
        self._usb_serial = next((p.serial_number for p in ports() if p.device == device), "")

    def places(self) -> list[str]:
        ports = self._ports()
        same = [p.device for p in ports if self._usb_serial and p.serial_number == self._usb_serial]
        named = [p.device for p in ports if p.device == self._device]
        others = [p.device for p in ports if p.is_candidate]
        return list(dict.fromkeys(same or named + others))

    def open(self, place: str) -> Transport:
        if self._opener is not None:
            return self._opener(place)
        from locum.link.serial_port import SerialTransport

        return SerialTransport(place)


class PathReach:
    """A served board's link: it is there, or it is not."""

    def __init__(self, path: str) -> None:
        self._path = path

    def places(self) -> list[str]:
        return [self._path] if Path(self._path).exists() else []

    def open(self, place: str) -> Transport:
        return DescriptorTransport.of_path(place)


@dataclass(frozen=True)
class Found:
    """A board that answers where we looked, and who it is."""

    transport: Transport
    identity: Identity
    place: str


def look_for(reach: Reach, serial: str, clock: Clock) -> tuple[Found | None, tuple[Remark, ...]]:
    """One look at every place for the board of this serial number.

    Returns the board, its link open, or None and what stands in the way at each place. A board of
    another serial number is closed again untouched.
    """
    remarks: list[Remark] = []
    for place in reach.places():
        try:
            transport = reach.open(place)
        except LinkTrouble as trouble:
            remarks += trouble.remarks
            continue
        try:
            identity = Board(transport, clock).identify()
        except LinkTrouble as trouble:
            transport.close()
            remarks += trouble.remarks
            continue
        if identity.serial == serial:
            return Found(transport, identity, place), ()
        transport.close()
        remarks.append(another_board(serial, identity.serial, place))
    return None, tuple(remarks)
