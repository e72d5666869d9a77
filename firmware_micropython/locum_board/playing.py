"""The player's plan: which step is next, and doing it.

Times are due times: ``due += dt``, never ``now + dt``, so that lateness does not add up. Two
buffers: one is played, the other is filled or waits to follow.
"""

from . import records, states, steps, ticks
from .mailbox import BUSY, DONE, NO_PLAN
from .player_state import LATE_EDGES_US, PHASE_CLOSING, PlayerState
from .steps import take_words, u16, u30

# Copies for the beat: a name of this module is found in one look, one of ``steps`` in two.
HEADER_BYTES = steps.HEADER_BYTES
STEP_BYTES = steps.STEP_BYTES
REPEAT = steps.REPEAT
FOLLOW = steps.FOLLOW
MOVE = records.MOVE
MOVE_STEP = records.MOVE_STEP

LATE_PART_MS = 3000
LATE_MOST_MS = 30000


class Playing(PlayerState):
    """Mixed into ``player.Player``."""

    def idle_buffer(self):
        """Where talk may put the next block, or None while a part waits there."""
        return None if self.next_ready else self.buffers[1 - self.active]

    def forget_waiting(self):
        """Drop a part that waits; a plan that is not whole without it is no plan any more."""
        self.next_ready = 0
        if self.first_step or self.first_step + self.count < self.total_steps:
            self.count = 0

    def _swap_plan(self):
        self.active = 1 - self.active
        buffer = self.buffers[self.active]
        self.buffer = buffer
        self.count = u16(buffer, 4)
        self.plan_flags = buffer[3]
        self.first_step = u30(buffer, 12)
        self.total_steps = u30(buffer, 16)
        self.plan_standing_ms = u30(buffer, 20) * 1000
        self.position = 0
        self.repeat_at = -1

    def _append(self):
        """Take the idle buffer as the next part if it fits the plan's end (talk compared ids)."""
        if self.next_ready:
            return BUSY
        buffer = self.buffers[1 - self.active]
        if not self.count or u30(buffer, 12) != self.first_step + self.count:
            return NO_PLAN
        self.next_count = u16(buffer, 4)
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
            row = self.row
            take_words(self.buffer, HEADER_BYTES + self.position * STEP_BYTES, row)
            if row[6] & REPEAT:
                self._repeat(row[1], row[2])
                continue
            self._step(row, late_ms)
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

    def _step(self, row, late_ms):
        flags = row[6]
        late_us = (
            late_ms if late_ms < LATE_MOST_MS else LATE_MOST_MS
        ) * 1000 + self.hands.late_us()
        self.steps_done = (self.steps_done + 1) & 0xFFFFFF
        self.step_number = self.first_step + self.position
        if flags & FOLLOW:
            if not self.following:
                self._start_walk()
                self.following = 1
                self._told_move(records.MOVE_FOLLOW)
        else:
            self.following = 0
            self._apply(row[1], row[2], row[3], row[4], flags & 3, row[5], flags >> 5 & 7)
            self.set_milliohm = -1
            self.rung = -1
            self.ring.event(MOVE, MOVE_STEP, self.now, row[5])
        contact = flags >> 2 & 3
        self.plan_contact = contact
        if contact != self.contact and not self.contact_by_hand:
            self._set_contact(contact)
        self.step_due = ticks.plus(self.step_due, row[0])
        self.position += 1
        self.stepped = row[0] > 1
        if self.step_number:  # the first one's moment is the order itself
            self._count_late(late_ms, late_us)

    def _count_late(self, late_ms, late_us):
        """How long after its moment a step's first word went out."""
        if late_ms > self.worst_late_ms:
            self.worst_late_ms = late_ms
        if late_ms > 1:
            self.late_steps += 1
        if late_us > self.worst_late_us:
            self.worst_late_us = late_us
        place = 0
        for edge in LATE_EDGES_US:
            if late_us <= edge:
                break
            place += 1
        if self.lateness[place] < 0xFFFF:
            self.lateness[place] += 1

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
            if late_ms > LATE_PART_MS:
                self._go_home(states.CAUSE_PLAN_LATE)
            return False
        flags = self.plan_flags
        self._hold(states.CAUSE_ENDED)
        if flags & steps.EASE_BACK_AT_END:
            self._go_home(states.CAUSE_ENDED)
        return False
