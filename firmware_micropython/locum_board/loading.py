"""The commands that bring plan, ladder and calibration on board; mixed into ``talk.Talk``."""

import struct

from . import ladder, states, steps, words
from . import mailbox as play
from .status import Fault
from .talk_state import TalkState


class Loading(TalkState):
    """Methods take their arguments as texts, a block from :meth:`talk.Talk.staged`; return None."""

    # ---- plan, ladder, calibration -----------------------------------------------------------

    def _same_network(self, number):
        if number and self.network_id and number != self.network_id:
            raise Fault(207, "%08X on board, %08X in the block" % (self.network_id, number))

    def load_plan(self):
        self.check(play.ORDER_PLAN)
        buffer, length = self.staged()
        self._take_plan(buffer, length)
        self.order(play.ORDER_PLAN)
        self._plan_is(buffer, length)

    def _take_plan(self, buffer, length):
        fault = steps.block_fault(buffer, length)
        if fault == "crc":
            raise Fault(-161, "crc")
        if fault:
            raise Fault(-224, fault)
        _, _, flags, count, part, _, first, _, _, network = struct.unpack_from(
            steps.HEADER, buffer, 0
        )
        self._same_network(network)
        if flags & steps.APPENDED or part or first:
            raise Fault(-224, "a later part: use LIST:DATA:APPend")
        self._abilities(buffer, count)

    def _abilities(self, buffer, count):
        """A step may ask only for what this board has."""
        has = self.hands.abilities
        at = steps.HEADER_BYTES + 12
        for _ in range(count):
            flags = steps.u16(buffer, at)
            at += steps.STEP_BYTES
            contact = flags >> steps.CONTACT_SHIFT & 3
            if flags & steps.REPEAT:
                continue
            if contact == steps.OPEN and not has & 4:
                raise Fault(-241, "OPEN")
            if contact == steps.SHORT and not has & 8:
                raise Fault(-241, "SHORt")
            if flags & steps.FOLLOW and not has & 1:
                raise Fault(-241, "ohmmeter")
            if flags & steps.HOT_MASK and not has & 16:
                raise Fault(-241, "hot branch")

    def _plan_is(self, buffer, length):
        self.plan_id = struct.unpack_from("<I", buffer, 8)[0]
        self.plan_crc = struct.unpack_from("<I", buffer, length - 4)[0]
        self.plan_name = ""

    def append_plan(self):
        self.check(play.ORDER_APPEND)
        buffer, length = self.staged()
        fault = steps.block_fault(buffer, length)
        if fault == "crc":
            raise Fault(-161, "crc")
        if fault:
            raise Fault(-224, fault)
        _, _, flags, count, _, plan_id, _, _, _, network = struct.unpack_from(
            steps.HEADER, buffer, 0
        )
        self._same_network(network)
        if plan_id != self.plan_id or not flags & steps.APPENDED:
            raise Fault(-224, "part of another plan")
        self._abilities(buffer, count)
        self.order(play.ORDER_APPEND)

    def set_plan_name(self, text):
        self.plan_name = words.quoted(text, 31)

    def set_ladder(self):
        """Copied from the staging buffer; while it is, there is no ladder to walk on."""
        buffer, length = self.staged()
        player = self.player
        if player.following or player.state == states.RETURNING:
            raise Fault(-221, "the ladder is in use")
        fault = ladder.block_fault(buffer, length)
        if fault == "crc":
            raise Fault(-161, "crc")
        if fault:
            raise Fault(-224, fault)
        self._same_network(struct.unpack_from("<I", buffer, 8)[0])
        player.rungs = 0
        player.rung = -1
        player.ladder[:length] = memoryview(buffer)[:length]
        player.rungs = struct.unpack_from("<H", buffer, 4)[0]
        self.ladder_crc = struct.unpack_from("<I", buffer, length - 4)[0]

    def set_calibration(self):
        """Opaque to the board but for its CRC and the network id in its first four bytes."""
        buffer, length = self.staged()
        if self.player.state not in (states.REST, states.READY):
            raise Fault(-221, "only at rest")
        if length < 12 or not steps.crc_is_good(buffer, length):
            raise Fault(-161, "crc")
        if not self.hands.store("cal", bytes(memoryview(buffer)[:length])):
            raise Fault(-340, "not stored")
        self.network_id = struct.unpack_from("<I", buffer, 0)[0]

    def set_references(self, *given):
        """The three ohmmeter references as calibrated [milliohm]."""
        self.hands.range_milliohm = tuple([words.integer(t, 1000, 200000000) for t in given])

    def set_ohm_offset(self, text):
        self.ohm_offset = words.integer(text, -1000, 1000)

    def store_plan(self):
        player = self.player
        if player.state not in (states.REST, states.READY) or not player.count:
            raise Fault(-221, "a plan and rest are needed")
        length = steps.HEADER_BYTES + player.count * steps.STEP_BYTES + 4
        if not self.hands.store("plan", bytes(memoryview(player.buffer)[:length])):
            raise Fault(-340, "not stored")

    def recall_plan(self):
        self.check(play.ORDER_PLAN)
        buffer = self.player.idle_buffer()
        data = self.hands.recall("plan")
        if buffer is None or data is None or len(data) > len(buffer):
            raise Fault(204)
        buffer[: len(data)] = data
        self._take_plan(buffer, len(data))
        self.order(play.ORDER_PLAN)
        self._plan_is(buffer, len(data))
