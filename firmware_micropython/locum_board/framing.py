"""From bytes to messages: lines of text with perhaps one block in them.

Bytes go into one line buffer of 256; a block's payload goes straight into the staging buffer that
the player has free, so that a plan is held once. In the line a block stands as BLOCK_MARK.
"""

from . import ticks

LINE_BYTES = 256
BLOCK_IDLE_MS = 2000
PAUSE_MS = 40
NEW_HOST = b"*IDN?"
MOST_BLOCK = 1000000
BLOCK_MARK = 1

TEXT, DIGIT_COUNT, DIGITS, PAYLOAD, AFTER, SKIP = range(6)


def block(payload):
    """Definite-length block of bytes."""
    length = str(len(payload))
    return b"#" + str(len(length)).encode() + length.encode() + bytes(payload)


class Framing:
    """Calls ``message(line, length, buffer)`` for each whole line, ``fault(number)`` for bad ones.

    ``length`` is -1 without a block; ``buffer`` is None if there was no room for its payload.
    """

    def __init__(self, message, fault, staging):
        self.message = message
        self.fault = fault
        self.staging = staging  # (line so far) -> bytearray or None
        self.line = bytearray(LINE_BYTES + 1)  # room for the CR of a full line
        self.used = 0
        self.state = TEXT
        self.quote = 0
        self.digits_left = 0
        self.left = 0
        self.length = -1  # of the message's block; -1: none
        self.buffer = None
        self.heard_ms = 0

    def in_block(self):
        return self.state in (DIGIT_COUNT, DIGITS, PAYLOAD)

    def receive(self, data, now_ms):
        """Take bytes. Who asks for a name in the middle of a block is a new host: the link broke."""
        paused = ticks.after(self.heard_ms, now_ms) >= PAUSE_MS
        if paused and self.in_block() and data.strip() == NEW_HOST:
            self._begin()
            self.fault(-161)
        self.heard_ms = now_ms
        at = 0
        size = len(data)
        while at < size:
            if self.state == PAYLOAD:
                at += self._payload(data, at)
            elif self.state == SKIP:
                found = data.find(b"\n", at)
                at = size if found < 0 else found + 1
                if found >= 0:
                    self._begin()
            else:
                after = self._plain(data, at) if self.state == TEXT and not self.used else 0
                if after:
                    at = after
                else:
                    self._byte(data[at])
                    at += 1

    def _plain(self, data, at):
        """The short way for a whole line without a block; where to go on, 0 if it is not one."""
        end = data.find(b"\n", at)
        if end <= at or end - at > LINE_BYTES + 1:
            return 0
        line = bytes(data[at:end])
        if line[-1] == 13:
            line = line[:-1]
        if (
            not line
            or len(line) > LINE_BYTES
            or min(line) < 32
            or max(line) >= 0x80
            or line.find(b"#") >= 0
        ):
            return 0
        self.message(line, -1, None)
        return end + 1

    def poll(self, now_ms):
        """Drop a block that has stopped coming."""
        if self.in_block() and ticks.after(self.heard_ms, now_ms) >= BLOCK_IDLE_MS:
            self._begin()
            self.fault(-161)

    def due_in(self, now_ms):
        if not self.in_block():
            return 1000
        return max(0, BLOCK_IDLE_MS - ticks.after(self.heard_ms, now_ms))

    def drop(self):
        """Forget the message that is coming in; skip to its end."""
        self._begin()
        self.state = SKIP

    def _begin(self):
        self.used = 0
        self.quote = 0
        self.length = -1
        self.buffer = None
        self.state = TEXT

    def _bad(self, number, byte):
        """Refuse the line and skip to its end."""
        self._begin()
        self.fault(number)
        if byte != 10:
            self.state = SKIP

    def _payload(self, data, at):
        take = len(data) - at
        if take > self.left:
            take = self.left
        if self.buffer is not None:
            start = self.length - self.left
            self.buffer[start : start + take] = data[at : at + take]
        self.left -= take
        if self.left == 0:
            self.state = AFTER
        return take

    def _byte(self, byte):
        state = self.state
        if state == DIGIT_COUNT:
            if not 49 <= byte <= 57:
                # "#H1F" and the like are numbers we do not take; "#0" needs an END we have not.
                self._bad(-161, byte)
                return
            self.digits_left = byte - 48
            self.left = 0
            self.state = DIGITS
        elif state == DIGITS:
            if not 48 <= byte <= 57:
                self._bad(-161, byte)
                return
            self.left = self.left * 10 + byte - 48
            self.digits_left -= 1
            if self.digits_left == 0:
                self._begin_payload()
        elif byte == 10:
            used = self.used
            if used and self.line[used - 1] == 13:
                used -= 1
            line = bytes(self.line[:used])
            length = self.length
            buffer = self.buffer
            self._begin()
            self.message(line, length, buffer)
        elif byte >= 0x80 or (byte < 32 and byte != 13 and byte != 9):
            self._bad(-101, byte)
        elif state == AFTER and byte not in (13, 59, 32, 9):
            self._bad(-161, byte)
        elif self.used > LINE_BYTES or (self.used == LINE_BYTES and byte != 13):
            self._bad(-363, byte)
        else:
            self._text(byte)

    def _text(self, byte):
        if self.state == AFTER and byte == 59:
            self.state = TEXT
        if self.quote:
            if byte == self.quote:
                self.quote = 0
        elif byte == 34 or byte == 39:
            self.quote = byte
        elif byte == 35:
            if self.length >= 0:
                self._bad(-161, byte)
                return
            self.state = DIGIT_COUNT
            return
        self.line[self.used] = byte
        self.used += 1

    def _begin_payload(self):
        if self.left > MOST_BLOCK or self.used >= LINE_BYTES:
            self._bad(-161, 0)
            return
        self.length = self.left
        self.buffer = self.staging(bytes(self.line[: self.used]))
        if self.buffer is not None and self.length > len(self.buffer):
            self.buffer = None
        self.line[self.used] = BLOCK_MARK
        self.used += 1
        self.state = PAYLOAD if self.left else AFTER
