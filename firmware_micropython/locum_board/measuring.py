"""The averaged ohmmeter reading of the self-calibration: range on, settle, sum; off, settle, sum."""

from . import records, steps, ticks
from .player_state import PlayerState

MEASURE_SETTLE_MS = 5


class Measuring(PlayerState):
    """Mixed into ``player.Player``."""

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
