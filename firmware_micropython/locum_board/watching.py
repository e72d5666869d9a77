"""Watch lines, mark button and slow channels.

A switched line is told edge by edge; a modulated one by its share of time high over 50 ms, when that
changes. A switched line with too many edges is told as a modulated one until it calms down.
"""

from . import records, states, ticks
from .player_state import PlayerState

KIND_SWITCHED, KIND_PWM, KIND_PEAK, KIND_IGNORE = range(4)
DUTY_MS = 50
EDGES_MS = 250
EDGES_MOST = 12  # in EDGES_MS
BUTTON_MS = 30
AUX_MS = 50  # one channel; the first every other time, the others in turn between
AUX_AGAIN_MS = 10000


class Watching(PlayerState):
    """Mixed into ``player.Player``."""

    def _watch(self, now_ms, busy):
        """Lines and button; duties or a slow channel unless this beat has been ``busy``."""
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
        down = hands.button()
        if down != self.button_down and ticks.after(self.button_ms, now_ms) >= BUTTON_MS:
            self.button_down = down
            self.button_ms = now_ms
            if down:
                self.mark(now_ms)
        if busy:
            return
        if ticks.after(now_ms, self.duty_due) <= 0:
            self.duties(now_ms)
        elif ticks.after(now_ms, self.aux_due) <= 0:
            self.aux_due = ticks.plus(now_ms, AUX_MS)
            turn = self.aux_turn
            self.aux_turn = (turn + 1) & 7
            channel = (turn >> 1) + 1 if turn & 1 else 0
            self.aux(channel, hands.aux(channel), now_ms)

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
        if self.edges[index] > EDGES_MOST:
            self.edges_lost += 1
            return
        self.ring.event(records.EDGE, line << 1 | level, now_ms, 0)

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
            flooded = self.edges[line] > EDGES_MOST
            kind = self.kinds[line]
            if kind == KIND_PWM or kind == KIND_PEAK or flooded:
                change = permille - self.duty_told[line]
                if change > 19 or change < -19 or (change and (permille in (0, 1000))):
                    self.duty_told[line] = permille
                    self.ring.event(records.DUTY, line + 1, now_ms, permille)
            if fresh:
                if flooded:
                    # Where the line stands now, for those who read edges only.
                    self.ring.event(
                        records.EDGE, (line + 1) << 1 | self.levels >> line & 1, now_ms, 0
                    )
                    self.duty_told[line] = -1
                self.edges[line] = 0
            line += 1
        if fresh:
            self.edge_due = ticks.plus(now_ms, EDGES_MS)
            if self.edges_lost:
                self.ring.event(records.NOTE, records.NOTE_EDGES_LOST, now_ms, self.edges_lost)
                self.edges_lost = 0
        self.duty_due = ticks.plus(now_ms, DUTY_MS)

    def mark(self, now_ms):
        """The helper's button."""
        self.ring.event(records.MARK, records.MARK_BUTTON, now_ms, 0)

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
        if (
            -enough < change < enough
            and ticks.after(self.aux_told_ms[channel], now_ms) < AUX_AGAIN_MS
        ):
            return
        self.aux_told[channel] = value
        self.aux_told_ms[channel] = now_ms
        self.ring.event(records.AUX, channel, now_ms, value)
