"""Talk's bytes over the one USB serial port, which the interpreter's prompt shares.

Binary streams both ways: the text ones would turn CR into LF and LF into CR LF. Ctrl-C is switched
off for good (the interpreter would catch it in the USB interrupt and throw away all that has been
received). Bytes are taken one by one after the poll says there is one: asking for more would wait
for them. Before a write the poll must say that there is room: a host that does not read costs at
most one blocked write of half a second, in this loop, never in the player's.
"""

import select
import sys

import micropython

TAKE = 256
SEND = 64


class Port:
    """Receive and send without waiting longer than the stack itself does."""

    def __init__(self):
        self._stdin = sys.stdin.buffer
        self._stdout = sys.stdout.buffer
        self._in_poll = select.poll()
        self._in_poll.register(sys.stdin, select.POLLIN)
        self._out_poll = select.poll()
        self._out_poll.register(sys.stdout, select.POLLOUT)
        self._one = bytearray(1)
        self._taken = bytearray(TAKE)
        self._view = memoryview(self._taken)
        self._waiting = b""  # an answer not sent yet
        self._sent = 0
        self.dropped = 0  # answers thrown away because a newer one came

    @micropython.native
    def take(self):
        """What has come in, up to 256 bytes; empty if nothing."""
        one = self._one
        taken = self._taken
        read = self._stdin.readinto
        ready = self._in_poll.ipoll
        used = 0
        while used < 256:
            there = False
            for _event in ready(0):
                there = True
            if not there or not read(one):
                break
            taken[used] = one[0]
            used += 1
        return bytes(self._view[:used]) if used else b""

    def wait(self, milliseconds):
        """Until something comes in, at most so long."""
        for _event in self._in_poll.ipoll(milliseconds):
            pass

    def send(self, answer):
        """Queue an answer; one that is still waiting for a host that does not read is dropped."""
        if self._sent < len(self._waiting):
            # Half an answer is worse than none: finish it only if the rest fits behind it.
            self.dropped += 1
            if self._sent:
                self._waiting = self._waiting[self._sent :] + answer
            else:
                self._waiting = answer
        else:
            self._waiting = answer
        self._sent = 0

    def push(self):
        """Send on while there is room. True while something is left."""
        while self._sent < len(self._waiting):
            there = False
            for _event in self._out_poll.ipoll(0):
                there = True
            if not there:
                return True
            end = self._sent + SEND
            self._stdout.write(self._waiting[self._sent : end])
            self._sent = min(end, len(self._waiting))
        self._waiting = b""
        self._sent = 0
        return False
