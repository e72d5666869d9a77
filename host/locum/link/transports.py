"""Ways for bytes to reach a board: in this process, or over a file descriptor such as a pty.

All have the three methods of :class:`Transport`; one contract suite tests them all. The serial
port is in ``serial_port.py``, the only file that knows pyserial.
"""

from __future__ import annotations

import os
import select
from typing import Protocol

from locum.errors import LinkTrouble, Remark
from locum.link.port_trouble import open_trouble


class Transport(Protocol):
    """Bytes to and from one board. All methods raise LinkTrouble when the link is gone."""

    name: str
    """What to call it in a message: a port, a path, "virtual"."""

    def write(self, data: bytes) -> None:
        """Send all of ``data``."""
        ...

    def read(self, timeout_s: float) -> bytes:
        """What has come in; waits up to ``timeout_s`` for the first byte; b"" if none came."""
        ...

    def close(self) -> None:
        """Let go; twice is harmless."""
        ...


class Served(Protocol):
    """A board in this process: bytes in, bytes out, at its own present time."""

    def receive(self, data: bytes) -> bytes: ...


class InProcessTransport:
    """Straight into a body's engine; answers are there as soon as they are asked for."""

    def __init__(self, body: Served, name: str = "virtual") -> None:
        self.name = name
        self._body: Served | None = body
        self._answers = bytearray()

    def write(self, data: bytes) -> None:
        if self._body is None:
            raise link_gone(self.name, "the link was closed")
        self._answers += self._body.receive(data)

    def read(self, timeout_s: float) -> bytes:
        if self._body is None:
            raise link_gone(self.name, "the link was closed")
        data = bytes(self._answers)
        self._answers.clear()
        return data

    def close(self) -> None:
        self._body = None


class DescriptorTransport:
    """A pty, pipe or socket by its file descriptors (POSIX)."""

    def __init__(self, read_fd: int, write_fd: int | None = None, name: str = "pty") -> None:
        self.name = name
        self._read_fd = read_fd
        self._write_fd = read_fd if write_fd is None else write_fd
        self._open = True

    @classmethod
    def of_path(cls, path: str) -> DescriptorTransport:
        """Open a served board's link by its path, for ourselves: of two programs each would hear half."""
        import fcntl  # where there are pseudo-terminals

        try:
            descriptor = os.open(path, os.O_RDWR | os.O_NOCTTY)
        except OSError as trouble:
            raise LinkTrouble(open_trouble(path, trouble)) from trouble
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as trouble:
            os.close(descriptor)
            raise LinkTrouble(open_trouble(path, trouble)) from trouble
        return cls(descriptor, name=path)

    def _need_open(self) -> None:
        """A descriptor that was closed may be another file's by now, the casebook's for one."""
        if not self._open:
            raise link_gone(self.name, "the link was closed")

    def write(self, data: bytes) -> None:
        self._need_open()
        view = memoryview(data)
        try:
            while view:
                if not select.select([], [self._write_fd], [], 2.0)[1]:
                    raise link_gone(self.name, "nothing has been taken for 2 s")
                view = view[os.write(self._write_fd, view[:1024]) :]
        except (OSError, ValueError) as trouble:
            if isinstance(trouble, LinkTrouble):
                raise
            raise link_gone(self.name, str(trouble)) from trouble

    def read(self, timeout_s: float) -> bytes:
        self._need_open()
        try:
            if not select.select([self._read_fd], [], [], max(0.0, timeout_s))[0]:
                return b""
            data = os.read(self._read_fd, 65536)
        except (OSError, ValueError) as trouble:
            raise link_gone(self.name, str(trouble)) from trouble
        if not data:
            raise link_gone(self.name, "the other end has closed")
        return data

    def close(self) -> None:
        if self._open:
            self._open = False
            for descriptor in {self._read_fd, self._write_fd}:
                os.close(descriptor)


PULLED = ("input/output error", "no such device", "device not configured", "returned no data",
          "device reports readiness", "handle is invalid", "device does not recognize",
          "clearcommerror", "bad file descriptor", "not open", "device which does not exist")  # fmt: skip
"""How systems and the serial library put it that the plug is out; lower case."""


def link_gone(name: str, found: str) -> LinkTrouble:
    """The one way to say that a link is lost; a system's own words for a pulled plug in ours."""
    if any(words in found.lower() for words in PULLED):
        found = "the plug is out, or the board has lost its power"
    return LinkTrouble(
        Remark(
            code="link_lost",
            where=name,
            wanted="a board that answers",
            found=found,
            remedy="check the cable and that no other program has the port, then connect again",
        )
    )
