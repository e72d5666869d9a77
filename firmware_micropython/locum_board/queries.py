"""The queries of the tree; mixed into ``talk.Talk``. Each returns text, or bytes for a block."""

import struct

from . import FIRMWARE, PROTOCOL, PROTOCOL_MINOR, states, steps, ticks, words
from .framing import block
from .player_state import PHASE_CLOSING
from .settings import CONTACTS, KINDS
from .talk_state import TalkState
from .words import short


def ohms(milliohm):
    """Milliohm as a decimal number of ohms."""
    if milliohm < 0:
        return "9.91E37"  # SCPI's "not a number"
    return "%d.%03d" % (milliohm // 1000, milliohm % 1000)


class Queries(TalkState):
    """Methods take their arguments as texts, as many as the tree allows, and return the answer."""

    def told(self, part, names):
        """Whole numbers as they stand in a part of talk."""
        self._conditions()
        return ",".join([str(getattr(part, name)) for name in names])

    # ---- common ------------------------------------------------------------------------------

    def identify(self):
        hands = self.hands
        last = "%s/P%d.%d/%d" % (FIRMWARE, PROTOCOL, PROTOCOL_MINOR, hands.boot_id)
        return "locum,%s,%s,%s" % (hands.model, hands.serial, last)

    def get_esr(self):
        value = self.status.esr
        self.status.esr = 0
        return str(value)

    def get_stb(self):
        self._conditions()
        return str(self.status.byte(bool(self.answers)))

    def is_complete(self):
        if self.player.state == states.RUNNING:
            self.opc_asked = True
            return None
        return "1"

    def self_test(self):
        """0 = passed."""
        if self.player.state not in (states.REST, states.READY):
            self.status.error(-221, "only at rest")
            return "1"
        passed, self.test_text = self.hands.self_test()
        if not passed:
            self.status.error(-330, self.test_text[:40])
        return "0" if passed else "1"

    def get_test_text(self):
        return '"%s"' % self.test_text.replace('"', "'")

    # ---- state -------------------------------------------------------------------------------

    def fetch(self):
        player = self.player
        now = self.now_ms
        standing = -1
        if states.HOLDING <= player.state <= states.RETURNING:
            left = player.standing_ms - ticks.after(player.standing_from, now)
            standing = left // 1000 if left > 0 else 0
        fields = (
            now,
            player.state,
            player.source,
            player.step_number if player.total_steps else -1,
            player.total_steps,
            self._node(),
            player.real_milliohm,
            player.cause,
            self.ring.lost,
            0 if player.silent else 1,
            player.following,
            player.contact,
            player.set_milliohm,
            0 if player.next_ready else 1,
            self.ring.waiting(),
            standing,
            player.levels,
            len(self.status.queue),
            player.milliohm(player.last_ohm16, player.range_now),
            self.hands.supply,
        )
        return ",".join([str(field) for field in fields])

    def _node(self):
        mean = self.player.last_node16
        return -1 if mean < 0 else self.hands.node_full_0v1mv * mean // 65536

    def get_voltage(self):
        node = self._node()
        return "9.91E37" if node < 0 else "%d.%04d" % (node // 10000, node % 10000)

    def get_ohms(self):
        return ohms(self.player.milliohm(self.player.last_ohm16, self.player.range_now))

    def get_output(self):
        return "1" if self.player.relay_on or self.player.phase == PHASE_CLOSING else "0"

    def get_cause(self):
        return '%d,"%s"' % (self.player.cause, states.CAUSE_NAMES[self.player.cause])

    def get_tripped(self):
        return "1" if self.player.state == states.TRIPPED else "0"

    def get_standing(self):
        return str(self.player.hand_standing_ms // 1000)

    def get_contact(self):
        return short(CONTACTS[self.player.contact])

    def get_resistance(self, end=None):
        """The ohms set; MINimum and MAXimum: the ladder's ends within the limits."""
        player = self.player
        if end is None:
            return ohms(player.set_milliohm)
        end = words.choice(end, ("MINimum", "MAXimum"))
        if not player.rungs:
            return ohms(-1)
        if end:
            return ohms(min(player.rung_milliohm(player.rungs - 1), self.limit_high))
        return ohms(max(player.rung_milliohm(0), self.limit_low))

    def get_limit_low(self):
        return ohms(self.limit_low)

    def get_limit_high(self):
        return ohms(self.limit_high)

    # ---- plan, ladder, calibration -----------------------------------------------------------

    def get_plan_crc(self):
        return "#H%08X" % self.plan_crc

    def get_plan_free(self):
        return "0" if self.player.next_ready else "1"

    def get_plan_name(self):
        return '"%s"' % self.plan_name

    def get_plan_points(self):
        """Steps in the whole plan, steps on board now."""
        player = self.player
        on_board = player.count + (player.next_count if player.next_ready else 0)
        return "%d,%d" % (player.total_steps, on_board)

    def get_ladder_crc(self):
        return "#H%08X" % self.ladder_crc

    def get_calibration(self):
        return block(self.hands.recall("cal") or b"")

    def get_calibration_crc(self):
        data = self.hands.recall("cal")
        return "#H%08X" % (struct.unpack_from("<I", data, len(data) - 4)[0] if data else 0)

    def get_references(self):
        return "%d,%d,%d" % tuple(self.hands.range_milliohm)

    def get_ohm_offset(self):
        return str(self.ohm_offset)

    # ---- listening ---------------------------------------------------------------------------

    def get_line_kind(self, line):
        line = words.integer(line, 1, 6)
        return short(KINDS[self.player.kinds[line - 1]])

    def get_hot(self):
        return "%d,%s" % (self.player.hot_milliohm, "FALL" if self.player.hot_falls else "RISE")

    def get_record(self, most="1000000"):
        most = words.integer(most, 2, 1000000)
        if most > self.hands.block_slots:
            most = self.hands.block_slots
        return block(self.ring.take(most, self.hands, self.ohm_offset))

    def get_record_points(self):
        return str(self.ring.waiting())

    def get_record_time(self):
        return "%d,%d,%d" % self.keeping.seconds(self.now_ms)

    # ---- status and system -------------------------------------------------------------------

    def get_oper_event(self):
        self._conditions()
        return str(self.operation.read_event())

    def get_ques_event(self):
        self._conditions()
        return str(self.questionable.read_event())

    def get_timeout(self):
        return "%d.%03d" % (self.player.hold_ms // 1000, self.player.hold_ms % 1000)

    def get_error(self):
        return self.status.next_error()

    def get_error_count(self):
        return str(len(self.status.queue))

    def get_headers(self):
        return block(("\n".join(self.tree.headers()) + "\n").encode())

    def get_version(self):
        return "1999.0"

    # ---- diagnosis ---------------------------------------------------------------------------

    def get_configuration(self):
        """abilities, wipers, lines, bucket ms, node full scale, three references, plan steps."""
        hands = self.hands
        ranges = hands.range_milliohm
        fields = (
            hands.abilities,
            hands.wiper_count,
            hands.line_count,
            hands.bucket_ms,
            hands.node_full_0v1mv,
            ranges[0],
            ranges[1],
            ranges[2],
            steps.MAX_STEPS,
        )
        return ",".join([str(field) for field in fields])

    def get_lateness(self):
        """Worst lateness of a step [us] since *CLS, and how many were in each class."""
        player = self.player
        return ",".join([str(count) for count in [player.worst_late_us] + list(player.lateness)])

    def get_memory(self):
        return str(self.hands.free_bytes())

    def get_reset_cause(self):
        """Why the board started, and the cause kept from before."""
        return "%d,%d" % (self.hands.reset_cause(), self.hands.kept_cause())
