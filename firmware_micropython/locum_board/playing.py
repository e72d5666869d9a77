"""The player's plan: which step is next, and doing it.

Times are due times: ``due += dt``, never ``now + dt``, so that lateness does not add up. Two
buffers: one is played, the other is filled or waits to follow.
"""

from . import records, states, steps, ticks
from .mailbox import BUSY, DONE, NO_PLAN
from .relaying import PHASE_CLOSING
from .steps import u16, u30

LATE_PART_MS = 3000
LATE_EDGES_US = (50, 100, 150, 200, 300, 500, 1000, 2000, 5000)
"""Upper edges of the classes that lateness is counted in; one more class has none."""
LATE_CLASSES = len(LATE_EDGES_US) + 1
LATE_MOST_MS = 30000


class Playing:
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
            at = steps.HEADER_BYTES + self.position * steps.STEP_BYTES
            buffer = self.buffer
            flags = u16(buffer, at + 12)
            if flags & steps.REPEAT:
                self._repeat(u16(buffer, at + 2), u16(buffer, at + 4))
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
        late_us = (
            late_ms if late_ms < LATE_MOST_MS else LATE_MOST_MS
        ) * 1000 + self.hands.late_us()
        self.steps_done = (self.steps_done + 1) & 0xFFFFFF
        self.step_number = self.first_step + self.position
        if flags & steps.FOLLOW:
            if not self.following:
                self._start_walk()
                self.following = 1
                self._told_move(records.MOVE_FOLLOW)
        else:
            self.following = 0
            self._apply(
                u16(buffer, at + 2),
                u16(buffer, at + 4),
                u16(buffer, at + 6),
                u16(buffer, at + 8),
                flags & steps.HOT_MASK,
                u16(buffer, at + 10),
                flags >> steps.TOLERANCE_SHIFT & 7,
            )
            self.set_milliohm = -1
            self.rung = -1
            self._told_move(records.MOVE_STEP)
        self.plan_contact = flags >> steps.CONTACT_SHIFT & 3
        if not self.contact_by_hand:
            self._set_contact(self.plan_contact)
        self.step_due = ticks.plus(self.step_due, u16(buffer, at))
        self.position += 1
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
        while place < LATE_CLASSES - 1 and late_us > LATE_EDGES_US[place]:
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
