"""Talk: reads SCPI messages, answers them, passes orders to the player. Runs in the main loop.

Decisions. A command error does not stop the rest of its message; each unit's error is queued.
Answers of one message are joined by ``;`` and end in a bare LF. Commands are done when they are
taken, except a running plan: *OPC and *OPC? wait for its end (an unfinished *OPC? is dropped with
-410 by the next message); *WAI does not wait, a host polls STATus:OPERation:CONDition?. Nothing
is sent unasked. Out of memory is caught and told as -225.
"""

from . import states, status, words
from .framing import BLOCK_MARK, Framing
from .loading import Loading
from .queries import Queries
from .settings import Settings
from .status import Fault
from .talk_state import TalkState


class Talk(Settings, Loading, Queries):
    """One talk with one host; its state is made by ``talk_state.TalkState``."""

    def __init__(self, player, hands, tree, now_ms):
        TalkState.__init__(self, player, hands, tree, now_ms)
        self.framing = Framing(self._message, self._framing_fault, self._staging)

    # ---- bytes -------------------------------------------------------------------------------

    def receive(self, data, now_ms):
        """Take bytes, give the bytes that answer them."""
        self.now_ms = now_ms
        try:
            self.framing.receive(data, now_ms)
        except MemoryError:
            self.framing.drop()
            self.hands.collect()
            self.status.error(-225)
        self._after()
        if not self.out:
            return b""
        answer = b"".join(self.out)
        self.out = []
        return answer

    def poll(self, now_ms):
        """Look after what time brings; answers an *OPC? that waits."""
        self.now_ms = now_ms
        self.framing.poll(now_ms)
        self._after()
        if not self.out:
            return b""
        answer = b"".join(self.out)
        self.out = []
        return answer

    def due_in(self, now_ms):
        """Milliseconds until :meth:`poll` has something to do."""
        return self.framing.due_in(now_ms)

    def _after(self):
        player = self.player
        if player.cause != self.kept:
            self.kept = player.cause
            self.hands.keep_cause(player.cause)
        if (self.opc_armed or self.opc_asked) and player.state != states.RUNNING:
            if self.opc_armed:
                self.status.esr |= status.OPC
            if self.opc_asked:
                self.out.append(b"1\n")
            self.opc_armed = self.opc_asked = False
        self._conditions()
        self.keeping.look(self.now_ms)

    def _conditions(self):
        player = self.player
        state = player.state
        oper = status.OPER_CALIBRATING if player.measuring else 0
        if player.phase:
            oper |= status.OPER_SETTLING
        if player.plan_running:
            oper |= status.OPER_SWEEPING
        if state == states.READY or state == states.HOLDING:
            oper |= status.OPER_WAITING if player.count else 0
        if not player.silent:
            oper |= status.OPER_HOST
        if player.relay_on:
            oper |= status.OPER_STANDING_IN
        if player.following:
            oper |= status.OPER_FOLLOWING
        if state == states.RETURNING:
            oper |= status.OPER_RETURNING
        self.operation.update(oper)
        ques = 0 if self.network_id else status.QUES_CALIBRATION
        if state == states.TRIPPED:
            ques |= status.QUES_TRIPPED
        if player.off_checks:
            ques |= status.QUES_SELF_CHECK
        if player.late_steps:
            ques |= status.QUES_LATE
        if self.hands.reset_cause() == 1:
            ques |= status.QUES_WATCHDOG
        if self.ring.lost:
            ques |= status.QUES_RECORD_LOST
        self.questionable.update(ques)

    def _framing_fault(self, number):
        self.status.error(number)

    def _staging(self, line):
        """Where the block that begins now may go: a new plan may replace parts that wait."""
        player = self.player
        if player.next_ready and player.state != states.RUNNING:
            self.path = ""
            try:
                header = self._parts(str(line, "ascii").split(";")[-1].strip() or "-")[0]
            except Fault:
                header = ""
            if self.tree.target(header) == LOAD_PLAN:
                player.forget_waiting()
        return player.idle_buffer()

    # ---- messages ----------------------------------------------------------------------------

    def _message(self, line, length, buffer):
        """One whole line; its units are done one after another."""
        self.player.heard_ms = self.now_ms
        self.block_length = length
        self.block = buffer
        self.answers = []
        self.path = ""
        if line.strip() and self.opc_asked:
            self.opc_asked = False
            self.status.error(-410)
        try:
            text = str(line, "ascii")
            target = self.recent.get(text)
            if target is not None:
                self._call(target, [])
            else:
                for unit in words.split(text, ";"):
                    if unit.strip():
                        self._unit(unit.strip())
            if self.answers:
                self.out.append(b";".join(self.answers) + b"\n")
        except MemoryError:
            self.answers = []
            self.hands.collect()
            self.status.error(-225)
        self.answers = []
        self.block = None
        self.collect_in -= 1
        if self.collect_in <= 0:
            self.collect_in = 50
            self.hands.collect()

    def _unit(self, unit):
        try:
            header, arguments = self._parts(unit)
            has_block = False
            for text in arguments:
                has_block = has_block or chr(BLOCK_MARK) in text
            target = self.tree.target(header)
            if target is None:
                raise Fault(-113, header[:24])
            if has_block and not target.endswith(BLOCK):
                raise Fault(-168)
            if not arguments and unit in RECENT:
                self.recent[unit] = target
        except Fault as fault:
            self.status.error(fault.number, fault.more)
            return
        self._call(target, arguments)

    def _call(self, target, arguments):
        """Do what the tree names for a header; see there for its words."""
        words_of = target.split(" ")
        name = words_of[0]
        try:
            if target.endswith(BLOCK):
                if arguments != [chr(BLOCK_MARK)]:
                    raise Fault(-104 if arguments else -109)
                arguments = []
            elif name[0] == "=" or len(words_of) == 1:
                self._counted(arguments, 0, 0)
            else:
                self._counted(arguments, int(words_of[1]), int(words_of[-1]))
            if name[0] == "=":
                answer = self.told(getattr(self, name[1:]), words_of[1:])
            else:
                answer = getattr(self, name)(*arguments)
            if answer is not None:
                self.answers.append(answer if isinstance(answer, bytes) else answer.encode())
        except Fault as fault:
            self.status.error(fault.number, fault.more)

    def _counted(self, arguments, least, most):
        """``least`` to ``most`` arguments are wanted."""
        if len(arguments) < least:
            raise Fault(-109)
        if len(arguments) > most:
            raise Fault(-108)

    def _parts(self, unit):
        """Header in short form with its whole path, and the arguments."""
        header = unit.split()[0]
        rest = unit[len(header) :].strip()
        arguments = [part.strip() for part in words.split(rest, ",")] if rest else []
        header = header.upper()
        query = header.endswith("?")
        body = header[:-1] if query else header
        if body[:1] == "*":
            return header, arguments
        rooted = body[:1] == ":"
        nodes = body[1:].split(":") if rooted else body.split(":")
        brief = []
        for node in nodes:
            name = self.tree.brief(node)
            if name is None:
                raise Fault(-113, header[:24])
            brief.append(name)
        key = ":".join(brief)
        mark = "?" if query else ""
        if not rooted and self.path:
            inner = self.path + ":" + key
            if self.tree.target(inner + mark):
                key = inner
        at = key.rfind(":")
        self.path = key[:at] if at > 0 else ""
        return key + mark, arguments


RECENT = ("FETC?", "TRAC:DATA?", "SYST:ERR?")
BLOCK = " block"
LOAD_PLAN = "load_plan block"
