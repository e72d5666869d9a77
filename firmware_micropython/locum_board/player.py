"""The player: what happens at the pins, and when.

Rules it is written by. ``advance(now_ms)`` is called every millisecond from a timer interrupt on
the Pico, from a loop on a Raspberry Pi, from event to event on the virtual board. It allocates
nothing (no tuple, no slice, no float, no number of 2**30 or more) and nothing in it can raise.
Orders come through a mailbox of one: talk fills ``order_args``, then sets ``order``; the player
acts, sets ``reply`` and clears ``order``.

Times are due times: ``due += dt``, never ``now + dt``, so that lateness does not add up.
Following, returning and the median of the real sensor go by windows of 250 ms; the record, the
self-check and the line's limits go by buckets of 10 ms.
"""

from array import array

from . import ladder, records, states, steps, ticks

# Orders of talk; arguments in order_args.
(
    ORDER_NONE,
    ORDER_SET,  # w0 w1 w2 w3 hot node tolerance milliohm
    ORDER_RUNG,  # rung
    ORDER_PLAN,  # the idle buffer holds a new plan
    ORDER_APPEND,  # the idle buffer holds the next part
    ORDER_ON,
    ORDER_INIT,
    ORDER_FOLLOW,  # seconds
    ORDER_CONTACT,  # kind, milliseconds (0: until told otherwise)
    ORDER_ABORT,
    ORDER_RETURN,
    ORDER_OFF,
    ORDER_RESET,
    ORDER_CLEAR,
    ORDER_MEASURE,  # w0 w1 w2 w3 hot range count
) = range(15)

# The state command that stands for each order.
ORDER_COMMAND = bytes(
    (
        255,
        states.SET,
        states.SET,
        states.LOAD,
        states.APPEND,
        states.ON,
        states.INIT,
        states.FOLLOW,
        states.CONTACT,
        states.ABORT,
        states.RETURN,
        states.OFF,
        states.RESET,
        states.CLEAR,
        states.MEASURE,
    )
)

(
    DONE,
    BY_STATE,  # refused by the table
    NO_LINE,  # the line is outside its range, or was not measured
    NO_LADDER,
    NO_PLAN,
    NOT_WHOLE,  # run on silence asked, but the plan is not wholly on board
    NO_REST,  # the rest switch is off or a part does not answer
    BUSY,  # both plan buffers hold something
) = range(8)

WINDOW_MS = 250
MEDIAN_WINDOWS = 20  # 5 s
CHANGE_MS = 10  # ohmmeter off before and after the relay moves
SETTLE_MS = 100  # no self-check sooner after a move
RETURN_MOST_MS = 20000
NOTED_MS = 1000
LIMIT_CHECKS = 3
BLIND_WINDOWS = 240  # a minute
MEASURE_SETTLE_MS = 5
OPEN_MILLIOHM = 0x3FFFFFFF
OPEN_16 = 65440  # ohmmeter mean at which it is called open: 6 counts below full scale

MERGE_SPAN = 100

PHASE_IDLE, PHASE_CLOSING, PHASE_CLOSED, PHASE_OPENED = range(4)

KIND_SWITCHED, KIND_PWM, KIND_PEAK, KIND_IGNORE = range(4)
DUTY_MS = 50
EDGES_A_WINDOW = 12  # in 250 ms; more and the line is told by its duty


class Player:
    """One board's behaviour. ``hands``: see ``hands.py``; ``ring``: ``records.Ring``."""

    def __init__(self, hands, ring):
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
        self.buffers = (bytearray(steps.BLOCK_BYTES), bytearray(steps.BLOCK_BYTES))
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
        self.step_number = -1
        self.step_due = 0
        self.repeat_at = -1
        self.repeat_left = 0
        self.late_plan = 0
        self.plan_running = 0
        self.worst_late_ms = 0
        self.late_steps = 0
        self.steps_done = 0

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
        self.ladder = bytearray(ladder.BLOCK_BYTES)
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
        self.new_range = 0  # talk changed range_real or range_stand_in
        self.clear_record = 0  # talk wants the record to begin anew

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
        self.readings = 0
        self.node_min = self.node_max = self.node_sum = 0
        self.ohm_min = self.ohm_max = self.ohm_sum = 0
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
        self.edge_due = ticks.plus(now_ms, WINDOW_MS)
        self.aux_due = now_ms
        self.cause = cause
        self.ring.event(records.STATE, self.state, now_ms, 0, cause)

    # ---- the beat ----------------------------------------------------------------------------

    def advance(self, now_ms):
        """Do everything that is due at ``now_ms``."""
        self.now = now_ms
        self.alive = (self.alive + 1) & 0xFFFFFF
        if self.order:
            self._take_order()
        self._flags()
        if self.phase and ticks.after(now_ms, self.phase_due) <= 0:
            self._next_phase()
        if self.state >= states.HOLDING and self.state <= states.RETURNING:
            self._stand(now_ms)
        if self.hands.sampled:
            self._sample(now_ms)
        if self.measuring:
            self._measure(now_ms)

    def take_order(self, now_ms):
        """Act on the mailbox now; for bodies whose player no timer drives."""
        self.now = now_ms
        if self.order:
            self._take_order()

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
                self.ring.event(records.NOTE, records.NOTE_HEARD, now_ms, 0, 0)
            if self.paused:
                self.paused = 0
                waited = ticks.after(self.paused_ms, now_ms)
                self.step_due = ticks.plus(self.step_due, waited)
                self.walk_due = now_ms
            return
        if not self.silent:
            self.silent = 1
            self.ring.event(records.NOTE, records.NOTE_SILENCE, now_ms, silent_ms & 0xFFFFFF, 0)
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
        if self.order or self.new_range or self.clear_record:
            return 0
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

    # ---- states ------------------------------------------------------------------------------

    def _become(self, state, cause):
        if state == self.state and cause == self.cause:
            return
        self.state = state
        self.cause = cause
        self.ring.event(records.STATE, state, self.now, 0, cause)

    def trip(self, cause):
        """A limit: real sensor at once, latched."""
        self._let_go()
        self._become(states.TRIPPED, cause)

    def _rest(self, cause):
        self._let_go()
        self._become(states.REST, cause)

    def _let_go(self):
        """Real sensor now. The first thing is the relay, whatever else there is to do."""
        hands = self.hands
        hands.relay(0)
        if self.relay_on:
            self.relay_on = 0
            self.moved = 1
            self.source = records.SOURCE_MOVING
            self.phase = PHASE_OPENED
            self.phase_due = ticks.plus(self.now, CHANGE_MS)
            self.ring.event(records.MOVE, records.MOVE_RELAY_OFF, self.now, 0, 0)
        elif self.phase == PHASE_CLOSING:
            self.phase = PHASE_OPENED
            self.phase_due = ticks.plus(self.now, CHANGE_MS)
        self._range(records.RANGE_OFF)
        self._set_contact(steps.THROUGH)
        self.contact_timed = 0
        self.contact_by_hand = 0
        self.plan_running = 0
        self.following = 0
        self.paused = 0
        self.silent = 0
        self.measuring = 0
        self._forget_real()
        hands.led(0)

    def _close_relay(self):
        """Line and switch were looked at; ohmmeter off for 10 ms, then the relay."""
        self.phase = PHASE_CLOSING
        self.phase_due = ticks.plus(self.now, CHANGE_MS)
        self.standing_from = self.now
        self.source = records.SOURCE_MOVING
        self.moved = 1
        self.off_checks = 0
        self.silent = 0
        self.paused = 0
        self._range(records.RANGE_OFF)
        self._forget_real()

    def _next_phase(self):
        hands = self.hands
        if self.phase == PHASE_CLOSING:
            hands.relay(1)
            hands.beat()
            hands.led(1)
            self.relay_on = 1
            self.moved = 1
            self.changed_ms = self.now
            self.phase = PHASE_CLOSED
            self.phase_due = ticks.plus(self.now, CHANGE_MS)
            self.ring.event(records.MOVE, records.MOVE_RELAY_ON, self.now, self._node_told(), 0)
            # The first step has waited for the relay; its time begins now.
            self.step_due = ticks.plus(self.step_due, ticks.after(self.standing_from, self.now))
            self.walk_due = self.now
        elif self.phase == PHASE_CLOSED:
            self.phase = PHASE_IDLE
            self.moved = 1
            self.source = records.SOURCE_STAND_IN
            self._range(self.range_real)
        else:
            self.phase = PHASE_IDLE
            self.moved = 1
            self.source = records.SOURCE_REAL
            self._range(self.range_stand_in)

    def _range(self, number):
        self.range_now = number
        self.hands.range(number)

    def _new_range(self):
        self.new_range = 0
        if self.phase != PHASE_IDLE or self.measuring:
            return
        wanted = self.range_real if self.relay_on else self.range_stand_in
        if wanted != self.range_now:
            self._range(wanted)
            self.moved = 1
            self._forget_real()

    def _flags(self):
        if self.new_range:
            self._new_range()
        if self.clear_record:
            self._begin_record()

    def take_flags(self, now_ms):
        """What talk changed takes effect now; for bodies whose player no timer drives."""
        self.now = now_ms
        self._flags()

    def _begin_record(self):
        """The record begins here: state, relay, contact, lines and slow channels as they are."""
        self.clear_record = 0
        self.open_span = 0
        self.readings = 0
        self.bucket_start = self.now
        ring = self.ring
        ring.clear(self.now)
        ring.event(records.STATE, self.state, self.now, 0, self.cause)
        if self.relay_on:
            ring.event(records.MOVE, records.MOVE_RELAY_ON, self.now, self._node_told(), 0)
            if self.contact:
                ring.event(records.MOVE, records.MOVE_OPEN - 1 + self.contact, self.now, 0, 0)
        line = 0
        while line < self.hands.line_count:
            if self.kinds[line] == KIND_SWITCHED:
                ring.event(records.EDGE, (line + 1) << 1 | self.levels >> line & 1, self.now, 0, 0)
            self.duty_told[line] = -1
            line += 1
        for channel in range(6):
            self.aux_told[channel] = -(1 << 29)

    def _node_told(self):
        return -1 if self.node_wanted == steps.NODE_UNKNOWN else self.node_wanted * 5

    # ---- orders ------------------------------------------------------------------------------

    def _take_order(self):
        order = self.order
        following = states.FLAT[self.state * 16 + ORDER_COMMAND[order]]
        if following == 255:
            self.reply = BY_STATE
        else:
            self.reply = self._obey(order, following)
        if self.reply != DONE:
            self.ring.event(records.NOTE, records.NOTE_REFUSED, self.now, order, self.reply)
        self.order = ORDER_NONE

    def _obey(self, order, following):
        args = self.order_args
        if order == ORDER_OFF or order == ORDER_RESET:
            if self.state != states.TRIPPED:
                self._rest(states.CAUSE_ASKED)
        elif order == ORDER_SET:
            self._apply(args[0], args[1], args[2], args[3], args[4], args[5], args[6])
            self.set_milliohm = args[7]
            self.rung = -1
            self._told_move(records.MOVE_STEP, 0)
            self._become(following, states.CAUSE_ASKED)
        elif order == ORDER_RUNG:
            if not 0 <= args[0] < self.rungs:
                return NO_LADDER
            self._take_rung(args[0])
            self._told_move(records.MOVE_STEP, args[0])
            self._become(following, states.CAUSE_ASKED)
        elif order == ORDER_PLAN:
            self._swap_plan()
            self.next_ready = 0
            self._become(following, states.CAUSE_ASKED)
        elif order == ORDER_APPEND:
            return self._append()
        elif order == ORDER_ON:
            return self._order_on(following)
        elif order == ORDER_INIT:
            return self._order_init(following)
        elif order == ORDER_FOLLOW:
            return self._order_follow(following)
        elif order == ORDER_CONTACT:
            self._order_contact(args[0], args[1])
        elif order == ORDER_ABORT:
            if self.state >= states.HOLDING and self.state <= states.RETURNING:
                self._hold(states.CAUSE_ASKED)
        elif order == ORDER_RETURN:
            self._go_home(states.CAUSE_ASKED)
        elif order == ORDER_CLEAR:
            self._become(states.REST, states.CAUSE_ASKED)
        elif order == ORDER_MEASURE:
            if self.state == states.READY:
                self._become(states.REST, states.CAUSE_ASKED)
            self._start_measure()
        return DONE

    def _order_on(self, following):
        if self.state == states.HOLDING:
            return DONE
        if not self._line_is_good():
            return NO_LINE
        if self.hands.rest_switch() or self.hands.fault:
            return NO_REST
        self.standing_ms = self.hand_standing_ms
        self._close_relay()
        self._become(following, states.CAUSE_ASKED)
        return DONE

    def _order_init(self, following):
        if not self.count:
            return NO_PLAN
        on_board = self.first_step + self.count + (self.next_count if self.next_ready else 0)
        if self.plan_flags & steps.RUN_ON_SILENCE and on_board < self.total_steps:
            return NOT_WHOLE
        if self.first_step:
            return NO_PLAN
        if self.state == states.READY:
            done = self._order_on(states.READY)
            if done != DONE:
                return done
        self.standing_from = self.now
        self.standing_ms = self.plan_standing_ms
        self.position = 0
        self.repeat_at = -1
        self.step_due = self.now
        self.step_number = -1
        self.late_plan = 0
        self.plan_running = 1
        self.following = 0
        if self.phase == PHASE_CLOSING:
            self._play(self.now)  # the first value is there before the relay closes
        self._become(following, states.CAUSE_ASKED)
        return DONE

    def _order_follow(self, following):
        if not self.rungs:
            return NO_LADDER
        if self.state == states.READY:
            done = self._order_on(states.READY)
            if done != DONE:
                return done
        self.standing_from = self.now
        seconds = self.order_args[0]
        self.standing_ms = seconds * 1000 if seconds else self.hand_standing_ms
        self.plan_running = 0
        self._start_walk()
        self._told_move(records.MOVE_FOLLOW, 0)
        self.following = 1
        self._become(following, states.CAUSE_ASKED)
        return DONE

    def _order_contact(self, kind, duration_ms):
        self.contact_by_hand = kind != steps.THROUGH
        self.contact_timed = 1 if duration_ms and kind != steps.THROUGH else 0
        self.contact_due = ticks.plus(self.now, duration_ms)
        self._set_contact(kind if kind != steps.THROUGH else self.plan_contact)

    def _end_contact(self):
        self.contact_timed = 0
        self.contact_by_hand = 0
        self._set_contact(self.plan_contact)

    def _hold(self, cause):
        self.plan_running = 0
        self.following = 0
        self.paused = 0
        self.plan_contact = steps.THROUGH
        self._end_contact()
        self._become(states.HOLDING, cause)

    def _line_is_good(self):
        """A fresh bucket of the node says that the module's line is in its range."""
        if self.last_node16 < 0 or ticks.after(self.last_bucket_ms, self.now) > 1500:
            return False
        count = self.last_node16 >> 4
        return count <= self.high_count and count >= self.low_count

    # ---- the network -------------------------------------------------------------------------

    def _apply(self, w0, w1, w2, w3, hot, node, tolerance):
        self.hands.wipers(w0, w1, w2, w3, hot)
        self.w0 = w0
        self.w1 = w1
        self.w2 = w2
        self.w3 = w3
        self.hot = hot
        self.node_wanted = node
        self.tolerance = tolerance
        self.changed_ms = self.now

    def _told_move(self, kind, number):
        self.ring.event(records.MOVE, kind, self.now, self._node_told(), number & 0xFFFF)

    def _set_contact(self, kind):
        if kind == self.contact:
            return
        self.contact = kind
        self.changed_ms = self.now
        self.hands.contact(kind)
        move = records.MOVE_THROUGH
        if kind == steps.OPEN:
            move = records.MOVE_OPEN
        elif kind == steps.SHORT:
            move = records.MOVE_SHORT
        self.ring.event(records.MOVE, move, self.now, 0, 0)

    # ---- plan --------------------------------------------------------------------------------

    def idle_buffer(self):
        """Where talk may put the next block, or None while a part waits there."""
        return None if self.next_ready else self.buffers[1 - self.active]

    def _u16(self, buffer, at):
        return buffer[at] | buffer[at + 1] << 8

    def _u30(self, buffer, at):
        return (
            buffer[at] | buffer[at + 1] << 8 | buffer[at + 2] << 16 | (buffer[at + 3] & 0x3F) << 24
        )

    def _swap_plan(self):
        self.active = 1 - self.active
        buffer = self.buffers[self.active]
        self.buffer = buffer
        self.count = self._u16(buffer, 4)
        self.plan_flags = buffer[3]
        self.first_step = self._u30(buffer, 12)
        self.total_steps = self._u30(buffer, 16)
        self.plan_standing_ms = self._u30(buffer, 20) * 1000
        self.position = 0
        self.repeat_at = -1

    def _append(self):
        """Take the idle buffer as the next part if it fits the plan's end (talk compared ids)."""
        if self.next_ready:
            return BUSY
        buffer = self.buffers[1 - self.active]
        if not self.count or self._u30(buffer, 12) != self.first_step + self.count:
            return NO_PLAN
        self.next_count = self._u16(buffer, 4)
        self.next_ready = 1
        return DONE

    def _play(self, now_ms):
        """Do the steps that are due; at most 64 at a time, so that nothing can spin."""
        for _ in range(64):
            late_ms = ticks.after(self.step_due, now_ms)
            if late_ms < 0:
                return
            if self.position >= self.count and not self._next_part(late_ms):
                return
            at = steps.HEADER_BYTES + self.position * steps.STEP_BYTES
            buffer = self.buffer
            flags = self._u16(buffer, at + 12)
            if flags & steps.REPEAT:
                self._repeat(self._u16(buffer, at + 2), self._u16(buffer, at + 4))
                continue
            self._step(buffer, at, flags, late_ms)
            if self.phase == PHASE_CLOSING:
                return

    def _repeat(self, back, times):
        if self.repeat_at != self.position:
            self.repeat_at = self.position
            self.repeat_left = times
        if self.repeat_left == 0:
            self.repeat_at = -1
            self.position += 1
            return
        if self.repeat_left != steps.ENDLESS:
            self.repeat_left -= 1
        self.position -= back

    def _step(self, buffer, at, flags, late_ms):
        if late_ms > self.worst_late_ms:
            self.worst_late_ms = late_ms
        if late_ms > 1:
            self.late_steps += 1
        self.steps_done = (self.steps_done + 1) & 0xFFFFFF
        self.step_number = self.first_step + self.position
        if flags & steps.FOLLOW:
            if not self.following:
                self._start_walk()
                self.following = 1
                self._told_move(records.MOVE_FOLLOW, self.step_number)
        else:
            self.following = 0
            self._apply(
                self._u16(buffer, at + 2),
                self._u16(buffer, at + 4),
                self._u16(buffer, at + 6),
                self._u16(buffer, at + 8),
                flags & steps.HOT_MASK,
                self._u16(buffer, at + 10),
                flags >> steps.TOLERANCE_SHIFT & 7,
            )
            self.set_milliohm = -1
            self.rung = -1
            self._told_move(records.MOVE_STEP, self.step_number)
        self.plan_contact = flags >> steps.CONTACT_SHIFT & 3
        if not self.contact_by_hand:
            self._set_contact(self.plan_contact)
        self.step_due = ticks.plus(self.step_due, self._u16(buffer, at))
        self.position += 1

    def _next_part(self, late_ms):
        """Go on with the part that waits. False if there is none."""
        if self.next_ready:
            self._swap_plan()
            self.next_ready = 0
            if self.late_plan:
                self.step_due = self.now
                self.late_plan = 0
            return True
        if self.first_step + self.count < self.total_steps:
            self.late_plan = 1
            if late_ms > 3000:
                self._go_home(states.CAUSE_PLAN_LATE)
            return False
        flags = self.plan_flags
        self._hold(states.CAUSE_ENDED)
        if flags & steps.EASE_BACK_AT_END:
            self._go_home(states.CAUSE_ENDED)
        return False

    # ---- the ladder: following and the way home ----------------------------------------------

    def _rung_at(self, rung):
        return ladder.HEADER_BYTES + rung * ladder.RUNG_BYTES

    def nearest_rung(self, milliohm):
        """The rung nearest in ohms; -1 without a ladder."""
        return self._search(milliohm, 0)

    def _search(self, wanted, by_node):
        low = 0
        high = self.rungs - 1
        if high < 0:
            return -1
        while low < high:
            middle = (low + high) >> 1
            if self._rung_value(middle, by_node) < wanted:
                low = middle + 1
            else:
                high = middle
        if low > 0:
            above = self._rung_value(low, by_node) - wanted
            below = wanted - self._rung_value(low - 1, by_node)
            if below < above:
                low -= 1
        return low

    def _rung_value(self, rung, by_node):
        at = self._rung_at(rung)
        return self._u16(self.ladder, at + 14) if by_node else self._u30(self.ladder, at)

    def rung_milliohm(self, rung):
        return self._rung_value(rung, 0)

    def _take_rung(self, rung):
        at = self._rung_at(rung)
        rungs = self.ladder
        flags = self._u16(rungs, at + 16)
        self._apply(
            self._u16(rungs, at + 6),
            self._u16(rungs, at + 8),
            self._u16(rungs, at + 10),
            self._u16(rungs, at + 12),
            flags & steps.HOT_MASK,
            self._u16(rungs, at + 14),
            flags >> steps.TOLERANCE_SHIFT & 7,
        )
        self.set_milliohm = self._u30(rungs, at)
        self.rung = rung

    def _start_walk(self):
        """Find the rung where we stand: by itself, by ohms, by the node wanted or measured."""
        self.credit = 0
        self.walk_due = self.now
        if self.rung >= 0 and self.rung < self.rungs:
            return
        if not self.rungs:
            self.rung = -1
        elif self.set_milliohm > 0:
            self.rung = self._search(self.set_milliohm, 0)
        else:
            node = self.node_wanted
            if node == steps.NODE_UNKNOWN and self.last_node16 >= 0:
                node = ticks.scaled(self.hands.node_full_0v1mv, self.last_node16, 327680)
            if node == steps.NODE_UNKNOWN or self._rung_value(0, 1) == steps.NODE_UNKNOWN:
                self.rung = -1
            else:
                self.rung = self._search(node, 1)

    def real_is_sane(self):
        """The real sensor's median is fresh and within what the host called working."""
        return (
            self.windows >= 4
            and self.blind < MEDIAN_WINDOWS
            and self.real_milliohm >= self.sane_low
            and self.real_milliohm <= self.sane_high
        )

    def _go_home(self, cause):
        """Ease back if there is a way: a ladder, a place on it, and a real sensor that is sane."""
        if self.contact != steps.THROUGH or self.contact_by_hand:
            self.plan_contact = steps.THROUGH
            self._end_contact()
        if self.phase == PHASE_CLOSING or not self.real_is_sane():
            self._rest(cause)
            return
        self._start_walk()
        if self.rung < 0:
            self._rest(cause)
            return
        self.plan_running = 0
        self.following = 0
        self.paused = 0
        self.return_from = self.now
        self._become(states.RETURNING, cause)
        self._told_move(records.MOVE_RETURN, self.rung)

    def _walk(self, now_ms):
        self.walk_due = ticks.plus(self.walk_due, WINDOW_MS)
        if ticks.after(now_ms, self.walk_due) <= 0:
            self.walk_due = ticks.plus(now_ms, WINDOW_MS)
        home = self.state == states.RETURNING
        if self.rung < 0:
            self._start_walk()
        if self.rung < 0 or not self.real_is_sane():
            if home:
                self._rest(self.cause)
            return
        target = self._search(self.real_milliohm, 0)
        if target != self.rung:
            self._steps_towards(target, self.return_rate if home else self.follow_rate, home)
        if home and (
            target == self.rung or ticks.after(self.return_from, now_ms) >= RETURN_MOST_MS
        ):
            if target != self.rung:
                # What is left is one jump, and it is ours.
                self.ring.event(records.MOVE, records.MOVE_RETURN, now_ms, 1, target & 0xFFFF)
            self._rest(self.cause)

    def _steps_towards(self, target, rate, home):
        self.credit += rate * WINDOW_MS // 1000
        at = self.rung
        moved = 0
        for _ in range(64):
            if at == target:
                break
            # A rung's weight is the cost of the move between it and the one below.
            price = self._u16(self.ladder, self._rung_at(at if target < at else at + 1) + 4)
            if self.credit < price:
                break
            self.credit -= price
            at += -1 if target < at else 1
            moved = 1
        if at == target:
            self.credit = 0
        if moved:
            self._take_rung(at)
            self._told_move(records.MOVE_RETURN if home else records.MOVE_FOLLOW, at)

    # ---- samples -----------------------------------------------------------------------------

    def _sample(self, now_ms):
        hands = self.hands
        hands.sample()
        elapsed = ticks.after(self.bucket_start, now_ms)
        if elapsed >= hands.bucket_ms:
            self._close_bucket()
            self.bucket_start = ticks.plus(self.bucket_start, hands.bucket_ms)
            if elapsed >= 2 * hands.bucket_ms:
                self.flush()
                self.bucket_start = now_ms
        node = hands.node
        ohm = hands.ohm if self.range_now != records.RANGE_OFF else 0
        if not self.readings:
            self.node_min = self.node_max = node
            self.ohm_min = self.ohm_max = ohm
            self.node_sum = self.ohm_sum = 0
        elif node < self.node_min:
            self.node_min = node
        elif node > self.node_max:
            self.node_max = node
        if ohm < self.ohm_min:
            self.ohm_min = ohm
        elif ohm > self.ohm_max:
            self.ohm_max = ohm
        self.node_sum += node
        self.ohm_sum += ohm
        self.readings += 1
        self._watch(now_ms)

    def _close_bucket(self):
        if self.readings:
            self.bucket(
                1,
                self.node_min,
                self.node_sum,
                self.node_max,
                self.ohm_min,
                self.ohm_sum,
                self.ohm_max,
                self.readings,
            )
        else:
            self.flush()
        self.readings = 0

    def bucket(self, span, nmin, nsum, nmax, omin, osum, omax, count):
        """Take ``span`` equal buckets from ``bucket_start`` on: least, sum, greatest, readings.

        Merges what is quiet, looks at the limits, feeds the real sensor's median. A body that
        is not ``sampled`` calls it and moves ``bucket_start`` itself.
        """
        source = records.SOURCE_MOVING if self.moved else self.source
        self.moved = 1 if self.source == records.SOURCE_MOVING else 0
        per = count // span
        word = source << 13 | self.range_now << 11 | (15 if per > 15 else per)
        if self.open_span:
            low = nmin if nmin < self.open_node_min else self.open_node_min
            high = nmax if nmax > self.open_node_max else self.open_node_max
            olow = omin if omin < self.open_ohm_min else self.open_ohm_min
            ohigh = omax if omax > self.open_ohm_max else self.open_ohm_max
            if (
                word == self.open_word
                and self.open_span + span <= MERGE_SPAN
                and high - low <= self.quiet_node
                and ohigh - olow <= self.quiet_ohm
            ):
                self.open_node_min = low
                self.open_node_max = high
                self.open_ohm_min = olow
                self.open_ohm_max = ohigh
                self.open_node_sum += nsum
                self.open_ohm_sum += osum
                self.open_count += count
                self.open_span += span
            else:
                self.flush()
        if not self.open_span:
            self.open_start = self.bucket_start
            self.open_word = word
            self.open_span = span
            self.open_count = count
            self.open_node_min = nmin
            self.open_node_max = nmax
            self.open_node_sum = nsum
            self.open_ohm_min = omin
            self.open_ohm_max = omax
            self.open_ohm_sum = osum
        if self.open_span >= MERGE_SPAN:
            self.flush()
        self.last_node16 = nsum * 16 // count
        self.last_ohm16 = osum * 16 // count if self.range_now != records.RANGE_OFF else -1
        self.last_bucket_ms = self.now
        if source == records.SOURCE_STAND_IN:
            self._check(nmin, nmax)
            if self.range_now != records.RANGE_OFF:
                self._window(span, omin, osum, omax, count)

    def flush(self):
        """Put the merged sample into the ring."""
        if self.open_span:
            self.ring.sample(
                self.open_start,
                self.hands.bucket_ms,
                self.open_word | self.open_span << 4,
                self.open_node_sum * 16 // self.open_count,
                self.open_ohm_sum * 16 // self.open_count,
                self.open_node_min,
                self.open_node_max,
                self.open_ohm_min,
                self.open_ohm_max,
            )
        self.open_span = 0

    def _check(self, nmin, nmax):
        """The line's limit at every bucket; the node against what was expected 4 times a second."""
        if self.state < states.HOLDING or self.state > states.RETURNING:
            return
        if nmin > self.high_count:
            self.trip(states.CAUSE_LINE)
            return
        if (
            not self.tolerance
            or self.contact != steps.THROUGH
            or self.node_wanted == steps.NODE_UNKNOWN
            or ticks.after(self.changed_ms, self.now) < SETTLE_MS
            or ticks.after(self.check_ms, self.now) < WINDOW_MS
        ):
            return
        self.check_ms = self.now
        # Full scale is in 0.1 mV at count 4096 = mean 65536; the wanted node in 0.5 mV.
        found = ticks.scaled(self.hands.node_full_0v1mv, self.last_node16, 327680)
        off = found - self.node_wanted
        if off < 0:
            off = -off
        if off <= steps.TOLERANCE_HALF_MV[self.tolerance]:
            self.off_checks = 0
            return
        self.off_checks += 1
        self.ring.event(records.NOTE, records.NOTE_SELF_CHECK, self.now, off * 5, self.off_checks)
        if self.off_checks >= LIMIT_CHECKS:
            self.trip(states.CAUSE_SELF_CHECK)

    def _window(self, span, omin, osum, omax, count):
        if omin < self.window_min:
            self.window_min = omin
        if omax > self.window_max:
            self.window_max = omax
        self.window_sum += osum
        self.window_count += count
        self.window_span += span
        if self.window_span * self.hands.bucket_ms < WINDOW_MS:
            return
        value = self.window_sum * 16 // self.window_count
        lively = self.window_max - self.window_min > 64
        self.window_span = 0
        self.window_sum = 0
        self.window_count = 0
        self.window_min = 4095
        self.window_max = 0
        if lively or value >= OPEN_16:
            # A glitch, or an open sensor: no value to follow.
            self.blind += 1
            if self.following and self.blind >= BLIND_WINDOWS:
                self.trip(states.CAUSE_BLIND)
            return
        self.blind = 0
        self._median(value)
        self._hot_limit()

    def _median(self, value):
        """Median of up to 20 window means; the oldest leaves, the new one is put in its place."""
        ranked = self.sorted
        count = self.windows
        if count == MEDIAN_WINDOWS:
            gone = self.ages[self.oldest]
            at = 0
            while at < count - 1 and ranked[at] != gone:
                at += 1
            while at < count - 1:
                ranked[at] = ranked[at + 1]
                at += 1
            count -= 1
        at = count
        while at > 0 and ranked[at - 1] > value:
            ranked[at] = ranked[at - 1]
            at -= 1
        ranked[at] = value
        self.windows = count + 1
        self.ages[self.oldest] = value
        self.oldest = (self.oldest + 1) % MEDIAN_WINDOWS
        self.real_milliohm = self.milliohm(ranked[self.windows >> 1], self.range_now)

    def _forget_real(self):
        self.windows = 0
        self.oldest = 0
        self.blind = 0
        self.real_milliohm = -1
        self.window_span = 0
        self.window_sum = 0
        self.window_count = 0
        self.window_min = 4095
        self.window_max = 0

    def milliohm(self, mean16, number):
        """Ohmmeter mean in sixteenths of a count as milliohm; open and off have their values."""
        if number == records.RANGE_OFF or mean16 < 0:
            return -1
        if mean16 >= OPEN_16:
            return OPEN_MILLIOHM
        return ticks.scaled(self.hands.range_milliohm[number], mean16, 65536 - mean16)

    def _hot_limit(self):
        if not self.hot_milliohm or self.windows < 4:
            return
        hot = (
            self.real_milliohm < self.hot_milliohm
            if self.hot_falls
            else self.real_milliohm > self.hot_milliohm
        )
        if hot and self.state >= states.HOLDING and self.state <= states.RETURNING:
            self.trip(states.CAUSE_HOT)

    # ---- watch lines, button, slow channels ----------------------------------------------------

    def _watch(self, now_ms):
        hands = self.hands
        levels = hands.lines()
        changed = levels ^ self.levels
        if changed or not self.lines_known:
            line = 0
            while line < hands.line_count:
                if changed >> line & 1 or not self.lines_known:
                    self.edge(now_ms, line + 1, levels >> line & 1)
                line += 1
            self.lines_known = 1
        if ticks.after(now_ms, self.duty_due) <= 0:
            self.duties(now_ms)
        down = hands.button()
        if down != self.button_down and ticks.after(self.button_ms, now_ms) >= 30:
            self.button_down = down
            self.button_ms = now_ms
            if down:
                self.mark(now_ms)
        if ticks.after(now_ms, self.aux_due) <= 0:
            self.aux_due = ticks.plus(now_ms, 100)
            self.aux(0, hands.aux(0), now_ms)
            self.aux_turn = self.aux_turn % 4 + 1
            self.aux(self.aux_turn, hands.aux(self.aux_turn), now_ms)

    def edge(self, now_ms, line, level):
        """Line 1..6 is at ``level`` since ``now_ms``. Too many edges are told as duty."""
        index = line - 1
        bit = 1 << index
        if self.levels & bit:
            self.high_ms[index] += ticks.after(self.high_from[index], now_ms)
        self.high_from[index] = now_ms
        self.levels = self.levels | bit if level else self.levels & ~bit
        if self.kinds[index] != KIND_SWITCHED:
            return
        self.edges[index] += 1
        if self.edges[index] > EDGES_A_WINDOW:
            self.edges_lost += 1
            return
        self.ring.event(records.EDGE, line << 1 | level, now_ms, 0, 0)

    def duties(self, now_ms):
        """Close the 50 ms of every line; tell the duty of modulated ones when it changes."""
        elapsed = ticks.after(self.duty_due, now_ms) + DUTY_MS
        fresh = ticks.after(now_ms, self.edge_due) <= 0
        line = 0
        while line < self.hands.line_count:
            high = self.high_ms[line]
            if self.levels >> line & 1:
                high += ticks.after(self.high_from[line], now_ms)
            self.high_from[line] = now_ms
            self.high_ms[line] = 0
            permille = high * 1000 // elapsed
            if permille > 1000:
                permille = 1000
            elif permille < 0:
                permille = 0
            flooded = self.edges[line] > EDGES_A_WINDOW
            kind = self.kinds[line]
            if kind == KIND_PWM or kind == KIND_PEAK or flooded:
                change = permille - self.duty_told[line]
                if change > 19 or change < -19 or (change and (permille in (0, 1000))):
                    self.duty_told[line] = permille
                    self.ring.event(records.DUTY, line + 1, now_ms, permille, 0)
            if fresh:
                if flooded:
                    # Where the line stands now, for those who read edges only.
                    self.ring.event(
                        records.EDGE, (line + 1) << 1 | self.levels >> line & 1, now_ms, 0, 0
                    )
                    self.duty_told[line] = -1
                self.edges[line] = 0
            line += 1
        if fresh:
            self.edge_due = ticks.plus(now_ms, WINDOW_MS)
            if self.edges_lost:
                self.ring.event(records.NOTE, records.NOTE_EDGES_LOST, now_ms, self.edges_lost, 0)
                self.edges_lost = 0
        self.duty_due = ticks.plus(now_ms, DUTY_MS)

    def mark(self, now_ms):
        """The helper's button."""
        self.ring.event(records.MARK, records.MARK_BUTTON, now_ms, 0, 0)

    def aux(self, channel, value, now_ms):
        """A slow channel: recorded when it has moved 50 mV (0.5 degC) or 10 s have passed."""
        if value <= -(1 << 29):
            return
        if channel == 2 and self.hands.vbus_low_0v1mv and value < self.hands.vbus_low_0v1mv:
            if self.state >= states.HOLDING and self.state <= states.RETURNING:
                self.trip(states.CAUSE_SUPPLY)
        change = value - self.aux_told[channel]
        # The return wire against battery negative matters in millivolts.
        enough = 100 if channel == 1 else 500
        if -enough < change < enough and ticks.after(self.aux_told_ms[channel], now_ms) < 10000:
            return
        self.aux_told[channel] = value
        self.aux_told_ms[channel] = now_ms
        self.ring.event(records.AUX, channel, now_ms, value, 0)

    # ---- self-calibration --------------------------------------------------------------------

    def _start_measure(self):
        args = self.order_args
        self._range(records.RANGE_OFF)
        self._apply(args[0], args[1], args[2], args[3], args[4], steps.NODE_UNKNOWN, 0)
        self.set_milliohm = -1
        self.rung = -1
        self.measure_range = args[5]
        self.measure_count = args[6]
        self.measure_on = 0
        self.measure_off = 0
        self.measuring = 1
        self._range(self.measure_range)
        self.measure_due = ticks.plus(self.now, MEASURE_SETTLE_MS)

    def _measure(self, now_ms):
        if not self.hands.sampled or ticks.after(now_ms, self.measure_due) > 0:
            return
        if self.measuring & 1:
            self.measuring += 1
            self.measure_left = self.measure_count
        if self.measuring == 2:
            self.measure_on += self.hands.ohm
        else:
            self.measure_off += self.hands.ohm
        self.measure_left -= 1
        if self.measure_left:
            return
        if self.measuring == 2:
            self._range(records.RANGE_OFF)
            self.measuring = 3
            self.measure_due = ticks.plus(now_ms, MEASURE_SETTLE_MS)
        else:
            self.measured(self.measure_on, self.measure_off)

    def measured(self, on_sum, off_sum):
        """The reading is done; a body that is not ``sampled`` calls this by itself."""
        self.measure_on = on_sum
        self.measure_off = off_sum
        self.measuring = 0
        self._range(self.range_stand_in)
