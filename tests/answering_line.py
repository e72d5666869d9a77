"""A serial line at whose other end something answers ``*IDN?``; for tests of finding and checking."""


class Line:
    """A port that answers every ``*IDN?`` in the same way."""

    def __init__(self, answer, noise=()):
        self.answer = answer
        self.coming = list(noise)
        self.written = b""
        self.closed = False

    def write(self, data):
        self.written += data
        if b"*IDN?" in data and self.answer:
            self.coming.append(self.answer)

    def read(self, timeout_s):
        return self.coming.pop(0) if self.coming else b""

    def close(self):
        self.closed = True
