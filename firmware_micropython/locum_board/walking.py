"""The ladder walked: following the real sensor, and the way home.

Both go by windows of 250 ms and pay for each rung with its weight; following stops where the real
sensor cannot be trusted, the way home then ends at once.
"""

from . import ladder, records, states, steps, ticks
from .player_state import MEDIAN_WINDOWS, PHASE_CLOSING, PlayerState
from .sensing import WINDOW_MS
from .steps import u16, u30

RETURN_MOST_MS = 20000


class Walking(PlayerState):
    """Mixed into ``player.Player``."""

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
        return u16(self.ladder, at + 14) if by_node else u30(self.ladder, at)

    def rung_milliohm(self, rung):
        return self._rung_value(rung, 0)

    def _take_rung(self, rung):
        at = self._rung_at(rung)
        rungs = self.ladder
        flags = u16(rungs, at + 16)
        self._apply(
            u16(rungs, at + 6),
            u16(rungs, at + 8),
            u16(rungs, at + 10),
            u16(rungs, at + 12),
            flags & steps.HOT_MASK,
            u16(rungs, at + 14),
            flags >> steps.TOLERANCE_SHIFT & 7,
        )
        self.set_milliohm = u30(rungs, at)
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
        self.forget_waiting()
        self.following = 0
        self.paused = 0
        self.return_from = self.now
        self._become(states.RETURNING, cause)
        self._told_move(records.MOVE_RETURN)

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
                self.ring.event(records.MOVE, records.MOVE_RETURN, now_ms, 0)
            self._rest(self.cause)

    def _steps_towards(self, target, rate, home):
        self.credit += rate * WINDOW_MS // 1000
        at = self.rung
        moved = 0
        for _ in range(64):
            if at == target:
                break
            # A rung's weight is the cost of the move between it and the one below.
            price = u16(self.ladder, self._rung_at(at if target < at else at + 1) + 4)
            if self.credit < price:
                break
            self.credit -= price
            at += -1 if target < at else 1
            moved = 1
        if at == target:
            self.credit = 0
        if moved:
            self._take_rung(at)
            self._told_move(records.MOVE_RETURN if home else records.MOVE_FOLLOW)
