"""The real sensor while the stand-in feeds the module: followed, held to its limit, led home to.

It goes by the median of 20 windows of 250 ms, those left out in which it moved like no temperature
does.
"""

from . import records, states, ticks
from .player_state import MEDIAN_WINDOWS, OPEN_MILLIOHM, PlayerState

WINDOW_MS = 250
BLIND_WINDOWS = 240  # a minute
LIVELY_COUNTS = 64
OPEN_16 = 65440  # ohmmeter mean at which it is called open: 6 counts below full scale


class Sensing(PlayerState):
    """Mixed into ``player.Player``."""

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
        if self.hands.sampled:
            self.window_full = 1  # the next beat has the time
        else:
            self._end_window()

    def _end_window(self):
        self.window_full = 0
        value = self.window_sum * 16 // self.window_count
        lively = self.window_max - self.window_min > LIVELY_COUNTS
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
        self.window_full = 0
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
