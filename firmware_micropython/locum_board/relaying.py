"""The swap relay, and the ohmmeter's ranges that must be off while it moves.

closing: ranges off, 10 ms, relay on, 10 ms, the real sensor's range on
opening: relay off at once, ranges off, 10 ms, the stand-in's range on
"""

from . import records, steps, ticks
from .player_state import PHASE_CLOSED, PHASE_CLOSING, PHASE_IDLE, PHASE_OPENED, PlayerState

CHANGE_MS = 10


class Relaying(PlayerState):
    """Mixed into ``player.Player``."""

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
            self.ring.event(records.MOVE, records.MOVE_RELAY_OFF, self.now, 0)
        elif self.phase == PHASE_CLOSING:
            self.phase = PHASE_OPENED
            self.phase_due = ticks.plus(self.now, CHANGE_MS)
        self._range(records.RANGE_OFF)
        self._set_contact(steps.THROUGH)
        self.contact_timed = 0
        self.contact_by_hand = 0
        if self.plan_running:
            self.plan_running = 0
            self.forget_waiting()
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
            self.ring.event(records.MOVE, records.MOVE_RELAY_ON, self.now, 0)
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

    def change_range(self, now_ms):
        """Talk has changed ``range_real`` or ``range_stand_in``."""
        self.now = now_ms
        if self.full:
            self._close_full()
        if self.phase != PHASE_IDLE or self.measuring:
            return
        wanted = self.range_real if self.relay_on else self.range_stand_in
        if wanted != self.range_now:
            self._range(wanted)
            self.moved = 1
            self._forget_real()
