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

from . import records, states, steps, ticks
from .measuring import Measuring
from .obeying import Obeying
from .player_state import PHASE_CLOSING
from .playing import Playing
from .relaying import Relaying
from .sampling import READINGS, Sampling
from .sensing import Sensing
from .walking import Walking
from .watching import DUTY_MS, EDGES_MS, KIND_SWITCHED, Watching

NOTED_MS = 1000


class Player(Obeying, Playing, Walking, Relaying, Sampling, Sensing, Watching, Measuring):
    """One board's behaviour; its state is made by ``player_state.PlayerState``."""

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
