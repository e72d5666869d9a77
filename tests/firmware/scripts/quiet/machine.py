"""A ``machine`` that allocates nothing when used: for running the player with the heap locked."""


class Pin:
    IN = 0
    OUT = 1
    PULL_UP = 1

    def __init__(self, gpio, mode=0, pull=None, value=None):
        self.state = 1 if mode == 0 and pull else (value or 0)
        if gpio == 28:
            self.state = 1

    def __call__(self, level=None):
        if level is None:
            return self.state
        self.state = level


class SPI:
    """Answers 3/4 of full scale for any conversion, and read-backs of TCON as it was written."""

    def __init__(self, number, **settings):
        self.tcon = bytearray(2)

    def write_readinto(self, out, back):
        if len(out) == 3:
            back[1] = 12
            back[2] = 0
        elif out[0] == 0x41:
            self.tcon[0] = out[1]
        elif out[0] == 0x4F:
            back[0] = 0xFF
            back[1] = self.tcon[0]


class _Memory:
    def __getitem__(self, address):
        return 0

    def __setitem__(self, address, value):
        pass


mem32 = _Memory()


def unique_id():
    return b"12345678"


def disable_irq():
    return 1


def enable_irq(state):
    pass


def reset():
    raise SystemExit
