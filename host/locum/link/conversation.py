"""The host's side of the talk with a board, as bytes in and bytes out; no port in it.

A command is a line; a query is a line that ends in ``?`` (or has one before its arguments) and is
answered by one line or one definite-length block. Nothing is pushed by the board, so answers come
in the order of the questions.
"""

from __future__ import annotations

from locum.errors import LinkTrouble, Remark

MAX_ANSWER_BYTES = 1 << 20
MAX_LINE_BYTES = 4096
NUMBER_SIGNS = (b"H", b"Q", b"B")
"""After ``#``: a number in hexadecimal, octal or binary, which is a line and no block."""


def block(payload: bytes) -> bytes:
    """A definite-length block: ``#``, number of digits, length, payload."""
    length = str(len(payload)).encode()
    return b"#" + str(len(length)).encode() + length + payload


def command(header: str, *arguments: object, payload: bytes | None = None) -> bytes:
    """One message of ASCII text, LF at its end. Raises ValueError for text that is not ASCII."""
    text = header + (" " + ",".join(str(item) for item in arguments) if arguments else "")
    line = text.encode("ascii")
    if b"\n" in line:
        raise ValueError("a command is one line")
    if payload is None:
        return line + b"\n"
    return line + (b"," if arguments else b" ") + block(payload) + b"\n"


class Conversation:
    """Turns the board's bytes into answers: ``str`` for a line, ``bytes`` for a block."""

    def __init__(self) -> None:
        self._data = bytearray()

    def feed(self, data: bytes) -> None:
        self._data += data

    def clear(self) -> None:
        """Drop a half answer, after a resynchronisation."""
        self._data.clear()

    @property
    def waiting(self) -> int:
        """Bytes of an answer that is not whole."""
        return len(self._data)

    def maybe_answer(self) -> str | bytes | None:
        """The next whole answer, or None. Raises LinkTrouble for what is not of our protocol."""
        while self._data[:1] in (b"\n", b"\r"):
            del self._data[:1]
        if not self._data:
            return None
        if self._data[:1] == b"#":
            if len(self._data) < 2:
                return None
            if self._data[1:2] not in NUMBER_SIGNS:
                return self._maybe_block()
        end = self._data.find(b"\n")
        if end < 0:
            if len(self._data) > MAX_LINE_BYTES:
                raise self._garbage("a line without end")
            return None
        line = bytes(self._data[:end]).rstrip(b"\r")
        del self._data[: end + 1]
        if any(byte >= 0x80 or (byte < 0x20 and byte != 0x09) for byte in line):
            raise self._garbage(f"bytes {line[:20]!r}")
        return line.decode("ascii")

    def _maybe_block(self) -> bytes | None:
        digits = self._data[1] - 0x30
        if not 1 <= digits <= 9:
            raise self._garbage("a block without length")
        if len(self._data) < 2 + digits:
            return None
        number = bytes(self._data[2 : 2 + digits])
        if not number.isdigit() or int(number) > MAX_ANSWER_BYTES:
            raise self._garbage(f"a block of length {number!r}")
        start = 2 + digits
        end = start + int(number)
        if len(self._data) <= end:
            return None
        if self._data[end] != 0x0A:
            raise self._garbage("a block that is longer than it says")
        payload = bytes(self._data[start:end])
        del self._data[: end + 1]
        return payload

    def _garbage(self, found: str) -> LinkTrouble:
        self._data.clear()
        return LinkTrouble(
            Remark(
                code="not_our_protocol",
                wanted="an answer of this protocol",
                found=found,
                remedy="check that the port is the board's; unplug it and plug it in again",
            )
        )
