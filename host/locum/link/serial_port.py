"""The serial port: the only file that knows pyserial.

Settings answer known trouble: ``exclusive`` so that two programs cannot share a board,
``write_timeout`` because a write to a board that reads nothing would hang for ever, no
``flush()`` because draining can hang on USB serial, DTR left raised because the board takes it as
"a host is there".
"""

from __future__ import annotations

import contextlib
import os

import serial

from locum.errors import LinkTrouble
from locum.link.port_trouble import open_trouble
from locum.link.transports import link_gone

CHUNK_BYTES = 256


class SerialTransport:
    """A board on a serial port. Raises LinkTrouble from every method when the link is gone."""

    def __init__(self, port: str) -> None:
        self.name = port
        try:
            self._port = serial.Serial(
                port,
                115200,
                timeout=0.1,
                write_timeout=2.0,
                exclusive=True if os.name == "posix" else None,
            )
        except (OSError, ValueError) as trouble:
            raise LinkTrouble(open_trouble(port, trouble)) from trouble

    def write(self, data: bytes) -> None:
        try:
            for start in range(0, len(data), CHUNK_BYTES):
                self._port.write(data[start : start + CHUNK_BYTES])
        except (OSError, TypeError, AttributeError) as trouble:
            self.close()
            raise link_gone(self.name, str(trouble)) from trouble

    def read(self, timeout_s: float) -> bytes:
        try:
            self._port.timeout = max(0.0, timeout_s)
            first = self._port.read(1)
            return first + self._port.read(self._port.in_waiting) if first else b""
        except (OSError, TypeError, AttributeError) as trouble:
            # An open handle would block the port when the board comes back: close at once.
            self.close()
            raise link_gone(self.name, str(trouble)) from trouble

    def close(self) -> None:
        with contextlib.suppress(OSError, TypeError, AttributeError):
            self._port.close()
