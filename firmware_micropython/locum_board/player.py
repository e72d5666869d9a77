"""The player: what happens at the pins, and when.

Rules it is written by. ``advance(now_ms)`` is called every millisecond from a timer interrupt on
the Pico, from a loop on a Raspberry Pi, from event to event on the virtual board. It allocates
nothing (no tuple, no slice, no float, no number of 2**30 or more) and nothing in it can raise.
Orders come through a mailbox of one, between two beats: talk fills ``order_args`` and ``order``
and calls ``take_order``, which acts, sets ``reply`` and clears ``order``. What talk has done
between beats is short, or comes in pieces, so that a step that falls due meanwhile is not late.

Times are due times: ``due += dt``, never ``now + dt``, so that lateness does not add up.
Following, returning and the median of the real sensor go by windows of 250 ms; the record, the
self-check and the line's limits go by buckets of 10 ms.
"""

from array import array

from . import records, states, steps, ticks
from .mailbox import DONE, ORDER_NONE
from .measuring import Measuring
from .obeying import Obeying
from .playing import LATE_CLASSES, Playing
from .relaying import PHASE_CLOSING, PHASE_IDLE, Relaying
from .sampling import MEDIAN_WINDOWS, OPEN_MILLIOHM, READINGS, Sampling
from .walking import Walking
from .watching import DUTY_MS, EDGES_MS, KIND_SWITCHED, Watching

NOTED_MS = 1000


class Player(Obeying, Playing, Walking, Relaying, Sampling, Watching, Measuring):
    """One board's behaviour. ``hands``: see ``hands.py``; ``ring``: ``records.Ring``.

    All of its state is made here, once.
    """

    def __init__(self, hands, ring, room):
        self.hands = hands
        self.ring = ring
        self.now = 0
        self.started = 0
        self.alive = 0
        self.state = states.REST
        self.cause = states.CAUSE_POWER
        self.source = records.SOURCE_REAL

        self.order = ORDER_NONE
        self.order_args = array("i", [0] * 8)
        self.reply = DONE

        # plan: two buffers, the active one and the one being filled or waiting
        self.buffers = room.plans
        self.active = 0
        self.buffer = self.buffers[0]
        self.count = 0
        self.next_ready = 0
        self.next_count = 0
        self.first_step = 0
        self.total_steps = 0
        self.plan_flags = 0
        self.plan_standing_ms = 0
        self.position = 0
        self.row = array("H", [0] * 7)  # the step being done
        self.step_number = -1
        self.step_due = 0
        self.repeat_at = -1
        self.repeat_left = 0
        self.late_plan = 0
        self.plan_running = 0
        self.worst_late_ms = 0
        self.late_steps = 0
        self.steps_done = 0
        self.lateness = array("H", [0] * LATE_CLASSES)
        self.worst_late_us = 0
        self.missed = 0  # beats that did not come; counted by who drives the player

        # the network as it is
        self.w0 = self.w1 = self.w2 = self.w3 = steps.OUT
        self.hot = 0
        self.node_wanted = steps.NODE_UNKNOWN
        self.tolerance = 0
        self.set_milliohm = -1
        self.rung = -1
        self.contact = steps.THROUGH
        self.plan_contact = steps.THROUGH
        self.contact_by_hand = 0
        self.contact_due = 0
        self.contact_timed = 0
        self.changed_ms = 0

        # ladder
        self.ladder = room.ladder
        self.rungs = 0
        self.follow_rate = 300
        self.return_rate = 1000
        self.following = 0
        self.credit = 0
        self.walk_due = 0
        self.return_from = 0

        # relay
        self.phase = PHASE_IDLE
        self.phase_due = 0
        self.relay_on = 0
        self.range_real = 1
        self.range_stand_in = records.RANGE_OFF
        self.range_now = records.RANGE_OFF

        # silence and the longest time away
        self.heard_ms = 0
        self.silent = 0
        self.hold_ms = 3000
        self.paused = 0
        self.paused_ms = 0
        self.hand_standing_ms = 1200000
        self.standing_from = 0
        self.standing_ms = 0

        # limits
        self.hot_milliohm = 0
        self.hot_falls = 1
        self.sane_low = 1
        self.sane_high = OPEN_MILLIOHM - 1
        self.high_count = self._counts(hands.line_high_0v1mv)
        self.low_count = self._counts(hands.line_low_0v1mv)
        self.off_checks = 0
        self.check_ms = 0

        # bucket being filled
        self.bucket_start = 0
        self.sums = array("i", [0] * 7)
        self.sums_full = array("i", [0] * 7)
        self.full = 0  # a bucket that ended with a step waits there for the next beat
        self.stepped = 0  # this beat has done a step, and the next one will not
        self.per = 0  # readings of the last bucket, and their code
        self.per_bits = 0
        self.moved = 1  # the relay moved within this bucket
        # merged buckets not put into the ring yet
        self.open_span = 0
        self.open_start = 0
        self.open_word = 0
        self.open_count = 0
        self.open_node_min = self.open_node_max = self.open_node_sum = 0
        self.open_ohm_min = self.open_ohm_max = self.open_ohm_sum = 0
        self.quiet_node = 16
        self.quiet_ohm = 16
        self.last_node16 = -1
        self.last_ohm16 = -1
        self.last_bucket_ms = 0

        # real sensor: window, and the sorted values of the last 20
        self.window_span = 0
        self.window_sum = 0
        self.window_count = 0
        self.window_min = 4095
        self.window_max = 0
        self.window_full = 0
        self.ages = array("H", [0] * MEDIAN_WINDOWS)
        self.sorted = array("H", [0] * MEDIAN_WINDOWS)
        self.windows = 0
        self.oldest = 0
        self.blind = 0
        self.real_milliohm = -1

        # lines
        self.levels = 0
        self.lines_known = 0
        self.kinds = bytearray(6)
        self.edges = array("H", [0] * 6)
        self.high_from = array("i", [0] * 6)
        self.high_ms = array("i", [0] * 6)
        self.duty_told = array("h", [-1] * 6)
        self.duty_due = 0
        self.edge_due = 0
        self.edges_lost = 0
        self.lines_told = 6  # of a record that begins
        self.button_down = 0
        self.button_ms = 0
        self.aux_due = 0
        self.aux_turn = 0
        self.aux_told = array("i", [-(1 << 29)] * 6)
        self.aux_told_ms = array("i", [0] * 6)

        # self-calibration reading
        self.measuring = 0  # 1 settle, 2 on, 3 settle, 4 off
        self.measure_range = 0
        self.measure_count = 0
        self.measure_left = 0
        self.measure_due = 0
        self.measure_on = 0
        self.measure_off = 0

    def _counts(self, limit_0v1mv):
        return limit_0v1mv * 4096 // self.hands.node_full_0v1mv

    def start(self, now_ms, cause):
        """Begin at ``now_ms``: everything out of circuit, relay at rest."""
        hands = self.hands
        hands.relay(0)
        hands.wipers(steps.OUT, steps.OUT, steps.OUT, steps.OUT, 0)
        hands.contact(steps.THROUGH)
        self._range(records.RANGE_OFF)
        self.now = now_ms
        self.started = 1
        self.bucket_start = now_ms
        self.heard_ms = now_ms
        self.duty_due = ticks.plus(now_ms, DUTY_MS)
        self.edge_due = ticks.plus(now_ms, EDGES_MS)
        self.aux_due = now_ms
        self.cause = cause
        self.ring.event(records.STATE, self.state, now_ms, cause)

    def advance(self, now_ms):
        """Do everything that is due at ``now_ms``."""
        self.now = now_ms
        self.alive = (self.alive + 1) & 0xFFFFFF
        self.stepped = 0
        if self.full:
            self._close_full()
        if self.phase and ticks.after(now_ms, self.phase_due) <= 0:
            self._next_phase()
        if self.state >= states.HOLDING and self.state <= states.RETURNING:
            self._stand(now_ms)
        if self.hands.sampled:
            self._sample(now_ms)
        if self.measuring:
            self._measure(now_ms)

    def _stand(self, now_ms):
        hands = self.hands
        if self.relay_on:
            hands.beat()
        if hands.fault:
            self.trip(states.CAUSE_FAULT)
            return
        if hands.line_tripped():
            self.trip(states.CAUSE_LINE)
            return
        if hands.rest_switch():
            self.trip(states.CAUSE_SWITCH)
            return
        if ticks.after(self.standing_from, now_ms) >= self.standing_ms:
            self.trip(states.CAUSE_STANDING)
            return
        if self.silent or self.paused or ticks.after(self.heard_ms, now_ms) >= NOTED_MS:
            self._listen_for_host(now_ms)
        if self.contact_timed and ticks.after(now_ms, self.contact_due) <= 0:
            self._end_contact()
        if self.phase == PHASE_CLOSING:
            return
        if self.state == states.RUNNING and self.plan_running and not self.paused:
            self._play(now_ms)
        if ((self.following and not self.paused) or self.state == states.RETURNING) and ticks.after(
            now_ms, self.walk_due
        ) <= 0:
            self._walk(now_ms)

    def _listen_for_host(self, now_ms):
        if self.state == states.RETURNING:
            return
        silent_ms = ticks.after(self.heard_ms, now_ms)
        runs_on = (
            self.state == states.RUNNING
            and self.plan_running
            and self.plan_flags & steps.RUN_ON_SILENCE
        )
        if silent_ms < NOTED_MS:
            if self.silent:
                self.silent = 0
                self.ring.event(records.NOTE, records.NOTE_HEARD, now_ms, 0)
            if self.paused:
                self.paused = 0
                waited = ticks.after(self.paused_ms, now_ms)
                self.step_due = ticks.plus(self.step_due, waited)
                self.walk_due = now_ms
            return
        if not self.silent:
            self.silent = 1
            self.ring.event(records.NOTE, records.NOTE_SILENCE, now_ms, silent_ms & 0xFFFF)
        if runs_on:
            return
        if not self.paused:
            self.paused = 1
            self.paused_ms = now_ms
        if silent_ms >= self.hold_ms:
            self._go_home(states.CAUSE_SILENCE)

    def due_in(self, now_ms):
        """Milliseconds until :meth:`advance` has something to do, 0..1000, sampling aside."""
        least = 1000
        if self.phase:
            least = self._sooner(least, now_ms, self.phase_due)
        if self.measuring:
            least = self._sooner(least, now_ms, self.measure_due)
        if self.state >= states.HOLDING and self.state <= states.RETURNING:
            least = self._sooner(least, now_ms, ticks.plus(self.standing_from, self.standing_ms))
            if self.contact_timed:
                least = self._sooner(least, now_ms, self.contact_due)
            if self.phase != PHASE_CLOSING:
                if self.state == states.RUNNING and self.plan_running and not self.paused:
                    least = self._sooner(least, now_ms, self.step_due)
                if (self.following and not self.paused) or self.state == states.RETURNING:
                    least = self._sooner(least, now_ms, self.walk_due)
            if self.state != states.RETURNING:
                if not self.silent:
                    least = self._sooner(least, now_ms, ticks.plus(self.heard_ms, NOTED_MS))
                elif self.paused:
                    least = self._sooner(least, now_ms, ticks.plus(self.heard_ms, self.hold_ms))
        return least

    def _sooner(self, least, now_ms, due_ms):
        left = ticks.after(now_ms, due_ms)
        if left < 0:
            left = 0
        return left if left < least else least

    def _become(self, state, cause):
        if state == self.state and cause == self.cause:
            return
        self.state = state
        self.cause = cause
        self.ring.event(records.STATE, state, self.now, cause)

    def trip(self, cause):
        """A limit: real sensor at once, latched."""
        self._let_go()
        self._become(states.TRIPPED, cause)

    def _rest(self, cause):
        self._let_go()
        self._become(states.REST, cause)

    def begin_record(self, now_ms):
        """The record begins here: state, relay, contact as they are; the lines are told after it."""
        self.now = now_ms
        self.full = 0
        self.lines_told = 0
        self.open_span = 0
        self.sums[READINGS] = 0
        self.bucket_start = now_ms
        ring = self.ring
        ring.clear(now_ms)
        ring.event(records.STATE, self.state, now_ms, self.cause)
        if self.relay_on:
            ring.event(records.MOVE, records.MOVE_RELAY_ON, now_ms, 0)
            if self.contact:
                ring.event(records.MOVE, records.MOVE_OPEN - 1 + self.contact, now_ms, 0)

    def tell_line(self, now_ms):
        """One more line as it is now, and a slow channel to be told again."""
        line = self.lines_told
        if line < self.hands.line_count and self.kinds[line] == KIND_SWITCHED:
            self.ring.event(records.EDGE, (line + 1) << 1 | self.levels >> line & 1, now_ms, 0)
        self.duty_told[line] = -1
        self.aux_told[line] = -(1 << 29)
        self.lines_told = line + 1
