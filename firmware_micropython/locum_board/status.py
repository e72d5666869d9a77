"""Status registers and the error queue, as IEEE 488.2 and SCPI-1999 have them.

Negative numbers are the standard's, positive ones ours. When the queue is full its last entry
becomes -350; *CLS empties it, *RST does not.
"""

TEXTS = """
0 No error
-100 Command error
-101 Invalid character
-102 Syntax error
-104 Data type error
-108 Parameter not allowed
-109 Missing parameter
-113 Undefined header
-120 Numeric data error
-131 Invalid suffix
-151 Invalid string data
-161 Invalid block data
-168 Block data not allowed
-200 Execution error
-211 Trigger ignored
-213 Init ignored
-221 Settings conflict
-222 Data out of range
-223 Too much data
-224 Illegal parameter value
-225 Out of memory
-241 Hardware missing
-310 System error
-330 Self-test failed
-340 Calibration failed
-350 Queue overflow
-363 Input buffer overrun
-410 Query INTERRUPTED
201 Line out of range
202 No ladder
203 Plan buffers full
204 No plan
205 Plan not whole on board
206 Rest switch is off
207 Other network
"""


def text_of(number):
    """The words of an error number."""
    start = TEXTS.find("\n%d " % number)
    if start < 0:
        return "Error"
    return TEXTS[TEXTS.find(" ", start) + 1 : TEXTS.find("\n", start + 1)]


QUEUE = 16

OPC, QUERY, DEVICE, EXECUTION, COMMAND, POWER_ON = 1, 4, 8, 16, 32, 128

OPER_CALIBRATING = 1
OPER_SETTLING = 2
OPER_SWEEPING = 8
OPER_WAITING = 32
OPER_HOST = 256
OPER_STANDING_IN = 512
OPER_FOLLOWING = 1024
OPER_RETURNING = 2048

QUES_CALIBRATION = 256
QUES_TRIPPED = 512
QUES_SELF_CHECK = 1024
QUES_LATE = 2048
QUES_WATCHDOG = 4096
QUES_RECORD_LOST = 8192


class Fault(Exception):
    """A command that is refused: a number of TEXTS and perhaps more words."""

    def __init__(self, number, more=""):
        super().__init__(number)
        self.number = number
        self.more = more


class Register:
    """A condition, its latched events (positive transitions) and its enable mask."""

    def __init__(self):
        self.condition = 0
        self.event = 0
        self.enable = 0

    def update(self, condition):
        self.event |= condition & ~self.condition
        self.condition = condition

    def read_event(self):
        event = self.event
        self.event = 0
        return event

    def summary(self):
        return bool(self.event & self.enable)


class Status:
    """Error queue, ESR, STB and the two SCPI registers."""

    def __init__(self):
        self.queue = []
        self.esr = POWER_ON
        self.ese = 0
        self.sre = 0
        self.operation = Register()
        self.questionable = Register()

    def error(self, number, more=""):
        """Queue an error and set its bit in the event status register."""
        if number <= -400:
            self.esr |= QUERY
        elif number <= -300 or number > 0:
            self.esr |= DEVICE
        elif number <= -200:
            self.esr |= EXECUTION
        else:
            self.esr |= COMMAND
        if len(self.queue) >= QUEUE:
            self.queue[-1] = (-350, "")
        else:
            self.queue.append((number, more))

    def next_error(self):
        number, more = self.queue.pop(0) if self.queue else (0, "")
        text = text_of(number)
        return '%d,"%s"' % (number, text + (";" + more if more else ""))

    def clear(self):
        """*CLS: events and queue, not the enables."""
        self.queue = []
        self.esr = 0
        self.operation.event = 0
        self.questionable.event = 0

    def preset(self):
        """STATus:PRESet: the SCPI enables to nothing."""
        self.operation.enable = 0
        self.questionable.enable = 0

    def byte(self, answer_waits):
        value = 4 if self.queue else 0
        value |= 8 if self.questionable.summary() else 0
        value |= 16 if answer_waits else 0
        value |= 32 if self.esr & self.ese else 0
        value |= 128 if self.operation.summary() else 0
        return value | 64 if value & self.sre & 0xBF else value
