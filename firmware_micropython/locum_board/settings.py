"""The commands of the tree that set or do something; mixed into ``talk.Talk``."""

from . import mailbox as play
from . import states, steps, words
from .status import Fault
from .talk_state import TalkState

SECONDS = {"S": 0, "MS": -3}
OHMS = {"OHM": 0, "KOHM": 3, "MOHM": 6}
KINDS = ("SWITched", "PWM", "PEAK", "IGNore")
CONTACTS = ("THRough", "OPEN", "SHORt")
MOST_MILLIOHM = (1 << 29) - 1
LINES = 6


class Settings(TalkState):
    """Methods take their arguments as texts, as many as the tree allows, and return None."""

    # ---- common commands ---------------------------------------------------------------------

    def nothing(self):
        """*WAI: there is nothing to wait for."""

    def clear_status(self):
        self.status.clear()
        self.opc_armed = self.opc_asked = False
        player = self.player
        player.worst_late_ms = player.worst_late_us = 0
        player.late_steps = 0
        for place in range(len(player.lateness)):
            player.lateness[place] = 0

    def set_ese(self, text):
        self.status.ese = words.integer(text, 0, 255)

    def set_sre(self, text):
        self.status.sre = words.integer(text, 0, 255) & 0xBF

    def operation_complete(self):
        self.opc_armed = True

    def reset(self):
        """*RST: real sensor at once; hand-made settings back to their start; plan and ladder stay."""
        self.order(play.ORDER_RESET)
        player = self.player
        player.follow_rate = 300
        player.return_rate = 1000
        player.hand_standing_ms = 1200000
        player.hot_milliohm = 0
        player.sane_low = 1
        player.sane_high = MOST_MILLIOHM
        player.quiet_node = player.quiet_ohm = 16
        self.limit_low = 1
        self.limit_high = MOST_MILLIOHM
        self.opc_armed = self.opc_asked = False

    def preset_status(self):
        self.status.preset()

    def set_oper_enable(self, text):
        self.operation.enable = words.integer(text, 0, 32767)

    def set_ques_enable(self, text):
        self.questionable.enable = words.integer(text, 0, 32767)

    # ---- what the module sees ----------------------------------------------------------------

    def set_output(self, text):
        on = words.boolean(text)
        self.order(play.ORDER_ON if on else play.ORDER_OFF)

    def ease_back(self):
        self.order(play.ORDER_RETURN)

    def clear_trip(self):
        self.order(play.ORDER_CLEAR)

    def initiate(self):
        self.order(play.ORDER_INIT, number=-213)

    def trigger(self):
        self.order(play.ORDER_INIT, number=-211)

    def abort(self):
        self.order(play.ORDER_ABORT)

    def set_code(self, *given):
        """w0,w1,w2,w3[,hot[,node[,tolerance[,milliohm]]]]"""
        self.check(play.ORDER_SET)
        values = [words.integer(text, 0, 65535) for text in given[:4]]
        hot = words.integer(given[4], 0, 3) if len(given) > 4 else 0
        node = words.integer(given[5], 0, 65535) if len(given) > 5 else steps.NODE_UNKNOWN
        tolerance = words.integer(given[6], 0, 7) if len(given) > 6 else 0
        milliohm = words.integer(given[7], -1, MOST_MILLIOHM) if len(given) > 7 else -1
        fault = steps.step_fault(1, values[0], values[1], values[2], values[3], node, hot)
        if fault:
            raise Fault(-222, fault)
        if milliohm >= 0 and not self.limit_low <= milliohm <= self.limit_high:
            raise Fault(-222, "outside the limits set")
        self.order(
            play.ORDER_SET,
            values[0],
            values[1],
            values[2],
            values[3],
            hot,
            node,
            tolerance,
            milliohm,
        )

    def set_resistance(self, text):
        """Nearest rung of the ladder; beyond the ladder's ends or the limits it is refused."""
        self.check(play.ORDER_RUNG)
        text = text.strip().upper()
        player = self.player
        if not player.rungs:
            raise Fault(202)
        low = player.rung_milliohm(0)
        high = player.rung_milliohm(player.rungs - 1)
        if text in ("MIN", "MINIMUM"):
            wanted = max(low, self.limit_low)
        elif text in ("MAX", "MAXIMUM"):
            wanted = min(high, self.limit_high)
        else:
            wanted = words.integer(text, 1, MOST_MILLIOHM, 3, OHMS)
        if not self.limit_low <= wanted <= self.limit_high:
            raise Fault(-222, "outside the limits set")
        if not low <= wanted <= high:
            raise Fault(-222, "outside the ladder")
        self.order(play.ORDER_RUNG, player.nearest_rung(wanted))

    def set_limit_low(self, text):
        self.limit_low = words.integer(text, 1, self.limit_high, 3, OHMS)

    def set_limit_high(self, text):
        self.limit_high = words.integer(text, self.limit_low, MOST_MILLIOHM, 3, OHMS)

    def set_contact(self, kind, text="0"):
        self.check(play.ORDER_CONTACT)
        kind = words.choice(kind, CONTACTS)
        milliseconds = words.integer(text, 0, 60000)
        needed = (0, 4, 8)[kind]
        if needed and not self.hands.abilities & needed:
            raise Fault(-241, CONTACTS[kind])
        self.order(play.ORDER_CONTACT, kind, milliseconds)

    def set_follow(self, on, text=None):
        """ON[,seconds] | OFF"""
        if not words.boolean(on):
            self.order(play.ORDER_ABORT)
            return
        self.check(play.ORDER_FOLLOW)
        if not self.hands.abilities & 1:
            raise Fault(-241, "ohmmeter")
        seconds = words.integer(text, 1, steps.MAX_STANDING_S) if text is not None else 0
        self.order(play.ORDER_FOLLOW, seconds)

    def set_follow_rate(self, text):
        self.player.follow_rate = words.integer(text, 1, 300)

    def set_return_rate(self, text):
        self.player.return_rate = words.integer(text, 1, 1000)

    def set_standing(self, text):
        self.player.hand_standing_ms = words.integer(text, 1, steps.MAX_STANDING_S) * 1000

    def extend_standing(self, text):
        """The longest time away begins again, now, with so many seconds."""
        seconds = words.integer(text, 1, steps.MAX_STANDING_S)
        player = self.player
        if not states.HOLDING <= player.state <= states.RUNNING:
            raise Fault(-221, "only while standing in")
        player.standing_ms = 0x1FFFFFFF
        player.standing_from = self.now_ms
        player.standing_ms = seconds * 1000

    # ---- listening ---------------------------------------------------------------------------

    def set_line_kind(self, line, kind):
        line = words.integer(line, 1, 6)
        if line > self.hands.line_count:
            raise Fault(-241, "line %d" % line)
        self.player.kinds[line - 1] = words.choice(kind, KINDS)
        self.player.duty_told[line - 1] = -1

    def set_quiet(self, node, ohm):
        node = words.integer(node, 0, 4095)
        self.player.quiet_ohm = words.integer(ohm, 0, 4095)
        self.player.quiet_node = node

    def set_hot(self, milliohm, turn="FALL"):
        """milliohm[,FALL|RISE]; 0 = no limit"""
        milliohm = words.integer(milliohm, 0, MOST_MILLIOHM)
        rises = words.choice(turn, ("FALL", "RISE"))
        self.player.hot_milliohm = 0
        self.player.hot_falls = 0 if rises else 1
        self.player.hot_milliohm = milliohm

    def set_range(self, real, own="3"):
        """real[,stand-in]: 0..2, 3 = off; takes effect at once if it is in use now."""
        if not self.hands.abilities & 1:
            raise Fault(-241, "ohmmeter")
        real = words.integer(real, 0, 3)
        own = words.integer(own, 0, 3)
        self.player.range_stand_in = own
        self.player.range_real = real
        self.hands.between_beats(self.player.change_range, self.now_ms)

    def set_sane(self, low, high):
        low = words.integer(low, 1, MOST_MILLIOHM)
        self.player.sane_high = words.integer(high, low, MOST_MILLIOHM)
        self.player.sane_low = low

    def set_timeout(self, text):
        """How long a silent host is waited for, 1.5..60 s."""
        self.player.hold_ms = words.integer(text, 1500, 60000, 3, SECONDS)

    def clear_record(self):
        player = self.player
        between_beats = self.hands.between_beats
        between_beats(player.begin_record, self.now_ms)
        for _ in range(LINES):
            between_beats(player.tell_line, self.now_ms)

    # ---- diagnosis ---------------------------------------------------------------------------

    def measure(self, *given):
        """w0,w1,w2,w3,hot,range,count: averaged ohmmeter reading of the stand-in, at rest."""
        self.check(play.ORDER_MEASURE)
        if not self.hands.abilities & 1:
            raise Fault(-241, "ohmmeter")
        if self.player.measuring or self.player.phase:
            raise Fault(-221, "not settled")
        values = [words.integer(text, 0, 65535) for text in given[:4]]
        hot = words.integer(given[4], 0, 3)
        number = words.integer(given[5], 0, 2)
        count = words.integer(given[6], 1, 4096)
        if steps.step_fault(1, values[0], values[1], values[2], values[3], 0, hot):
            raise Fault(-222)
        self.order(
            play.ORDER_MEASURE, values[0], values[1], values[2], values[3], hot, number, count
        )

    def maintenance(self):
        if self.player.state != states.REST:
            raise Fault(-221, "only at rest")
        if not self.hands.maintenance():
            raise Fault(-241, "no prompt here")
