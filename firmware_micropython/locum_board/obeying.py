"""Orders obeyed: what talk asked for, if the table lets it."""

from . import records, states, steps, ticks
from .mailbox import (
    BY_STATE,
    DONE,
    NO_LADDER,
    NO_LINE,
    NO_PLAN,
    NO_REST,
    NOT_WHOLE,
    ORDER_ABORT,
    ORDER_APPEND,
    ORDER_CLEAR,
    ORDER_COMMAND,
    ORDER_CONTACT,
    ORDER_FOLLOW,
    ORDER_INIT,
    ORDER_MEASURE,
    ORDER_NONE,
    ORDER_OFF,
    ORDER_ON,
    ORDER_PLAN,
    ORDER_RESET,
    ORDER_RETURN,
    ORDER_RUNG,
    ORDER_SET,
)
from .player_state import PHASE_CLOSING, PlayerState


class Obeying(PlayerState):
    """Mixed into ``player.Player``."""

    def take_order(self, now_ms):
        """Act on the mailbox now; talk sees to it that no beat comes between."""
        self.now = now_ms
        if self.full:
            self._close_full()
        order = self.order
        if not order:
            return
        following = states.following(self.state, ORDER_COMMAND[order])
        if following == states.REFUSED:
            self.reply = BY_STATE
        else:
            self.reply = self._obey(order, following)
        if self.reply != DONE:
            self.ring.event(records.NOTE, records.NOTE_REFUSED, self.now, order << 8 | self.reply)
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
            self._told_move(records.MOVE_STEP)
            self._become(following, states.CAUSE_ASKED)
        elif order == ORDER_RUNG:
            if not 0 <= args[0] < self.rungs:
                return NO_LADDER
            self._take_rung(args[0])
            self._told_move(records.MOVE_STEP)
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
        self._told_move(records.MOVE_FOLLOW)
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
        self.forget_waiting()
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

    def _told_move(self, kind):
        self.ring.event(records.MOVE, kind, self.now, self.node_wanted)

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
        self.ring.event(records.MOVE, move, self.now, 0)
