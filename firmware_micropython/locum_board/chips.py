"""What the chips of the network and of the converter want to hear, bit by bit; no bus in here.

Dual potentiometers of the MCP4251 command layout, 16 bits, first byte first::

    out  AAAACCeD DDDDDDDD     A register, C command (00 write, 11 read), D value 0..256
    back 111111ED DDDDDDDD     E 1 = command understood, 0 = refused or nobody there

    register  0 wiper 0   1 wiper 1   4 terminal control (TCON)   5 status
    TCON      1 HAWB hawb: bits 7-4 potentiometer 1, bits 3-0 potentiometer 0;
              W and B cleared takes that rheostat out. H is the shutdown bit: it would tie the
              wiper to B, a short of 75 ohm, so it is never cleared.

Converter of the MCP3208 layout, 24 bits::

    out  000001SC CC000000 00000000   S 1 = single ended, C channel
    back xxxxxxxx xxx0DDDD DDDDDDDD   0 the null bit, D count 0..4095

The Pico and the Raspberry Pi send the same words in the same order because both send them from
here.
"""

from array import array

OUT = 0x8000
NOWHERE = 0x7FFF
CODE = 0x1FF
TCON = 4
READ = 0x0C
UNDERSTOOD = 0x02
TCON_ALL = 0x1FF
# W and B of potentiometer 0 and 1
TERMINALS = (0x03, 0x30)
TCON_NONE = TCON_ALL & ~0x33


def read_value(first, second):
    """Register value in the two bytes that came back, or -1 if the error bit says no."""
    if not first & UNDERSTOOD:
        return -1
    return (first & 1) << 8 | second


def adc_bytes(channel):
    """The first two bytes of a single-ended conversion; the third is 0."""
    return 0x06 | channel >> 2, (channel & 3) << 6


def lay(words, want, place, codes, tcon, count):
    """Lay out in ``words`` what moves ``count`` wipers to ``want``, and take them for moved.

    A wiper that comes in gets its code before its terminals; one that goes out keeps its code.
    Returns how many words there are, plus 256 times those of rank 0 and 1.
    """
    total = early = rank = 0
    while rank < 4:
        if rank == 2:
            early = total
        index = 0
        while index < count:
            word = want[index]
            goal = OUT if word & OUT else word & CODE
            if word >> 9 & 3 == rank and goal != place[index]:
                place[index] = goal
                chip = index >> 1
                side = index & 1
                before = tcon[chip]
                after = (before or TCON_NONE) | TERMINALS[side]
                if goal == OUT:
                    after ^= TERMINALS[side]
                elif goal != codes[index]:
                    codes[index] = goal
                    words[total] = chip << 16 | side << 12 | goal
                    total += 1
                if after != before:
                    tcon[chip] = after
                    words[total] = chip << 16 | TCON << 12 | after
                    total += 1
            index += 1
        rank += 1
    return early << 8 | total


class Wipers:
    """Up to four wipers on one or two dual chips, moved in their order, and the hot branches.

    ``send(chip, first, second)`` puts two bytes on the bus; ``hot(bits)`` switches the branches.
    Both are called from a timer interrupt on the Pico: nothing here allocates after start-up.
    Words that would change nothing are not sent. ``send_all(words, at, end)``, if there is one, sends
    a run of laid words quicker than one by one.
    """

    def __init__(self, send, hot, count=4, send_all=None):
        self._send = send
        self._send_all = send_all or self._one_by_one
        self._switch = hot
        self.count = count
        self.codes = array("H", [0x8000] * count)
        self.tcon = array("H", [0] * ((count + 1) // 2))
        self.hot = -1
        self.want = array("H", [OUT] * 4)
        self.words = array("i", [0] * 8)  # chip in bits 16 and up, below it what it is sent
        self.place = array("H", [NOWHERE] * count)  # where each wiper is: its code, OUT

    def all_out(self):
        """Terminals first, then the branches; sent whatever was sent before."""
        for index in range(self.count):
            self.place[index] = OUT
        for chip in range(len(self.tcon)):
            self.tcon[chip] = TCON_NONE
            self._send(chip, TCON << 4 | 1, TCON_NONE & 0xFF)
        self.hot = 0
        self._switch(0)

    def forget(self):
        """Send everything again next time: the chips may have lost their registers."""
        for index in range(self.count):
            self.codes[index] = 0x8000
            self.place[index] = NOWHERE
        for chip in range(len(self.tcon)):
            self.tcon[chip] = 0
        self.hot = -1

    def set(self, w0, w1, w2, w3, hot):
        """Move to four wiper words and hot bits: by rank, P1 first among equals.

        The branches move between rank 1 and rank 2. All words are laid out before the first is
        sent, so that they follow each other closely: what is between them is an excursion.
        """
        want = self.want
        want[0] = w0
        want[1] = w1
        want[2] = w2
        want[3] = w3
        words = self.words
        laid = lay(words, want, self.place, self.codes, self.tcon, self.count)
        early = laid >> 8
        if early:
            self._send_all(words, 0, early)
        if hot != self.hot:
            self.hot = hot
            self._switch(hot)
        laid &= 0xFF
        if laid > early:
            self._send_all(words, early, laid)

    def _one_by_one(self, words, at, end):
        while at < end:
            word = words[at]
            self._send(word >> 16, word >> 8 & 0xFF, word & 0xFF)
            at += 1

    def expected(self, chip, register):
        """What a read of a register should bring back; -1 if it was never written."""
        if register == TCON:
            return self.tcon[chip] or -1
        code = self.codes[chip * 2 + register]
        return code if code <= 256 else -1
