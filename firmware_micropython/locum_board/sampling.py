"""What is measured: buckets of 10 ms, the record merged from them, and the limits they are held to.

The record and the line's limit go by buckets, the self-check by quarters of a second.
"""

from . import records, states, steps, ticks
from .player_state import PlayerState
from .sensing import WINDOW_MS

SETTLE_MS = 100  # no self-check sooner after a move
LIMIT_CHECKS = 3
MERGE_SPAN = records.MAX_SPAN


READINGS, NODE_LEAST, NODE_SUM, NODE_MOST, OHM_LEAST, OHM_SUM, OHM_MOST = range(7)


def gather(sums, node, ohm):
    """One reading more into ``sums``, an array in the order above; empty while READINGS is 0."""
    if not sums[READINGS]:
        sums[NODE_LEAST] = sums[NODE_MOST] = node
        sums[OHM_LEAST] = sums[OHM_MOST] = ohm
        sums[NODE_SUM] = sums[OHM_SUM] = 0
    elif node < sums[NODE_LEAST]:
        sums[NODE_LEAST] = node
    elif node > sums[NODE_MOST]:
        sums[NODE_MOST] = node
    if ohm < sums[OHM_LEAST]:
        sums[OHM_LEAST] = ohm
    elif ohm > sums[OHM_MOST]:
        sums[OHM_MOST] = ohm
    sums[NODE_SUM] += node
    sums[OHM_SUM] += ohm
    sums[READINGS] += 1


class Sampling(PlayerState):
    """Mixed into ``player.Player``."""

    def _sample(self, now_ms):
        """One reading, the lines, and of what comes round more slowly one thing at a time.

        A beat must be over before the next one is due, or a step would wait for it; so what can wait
        is left for a beat without a step.
        """
        hands = self.hands
        hands.sample()
        elapsed = ticks.after(self.bucket_start, now_ms)
        stepped = self.stepped
        if elapsed < hands.bucket_ms:
            turn = stepped
            if self.window_full and not stepped:
                self._end_window()
                turn = 1
        elif stepped and elapsed == hands.bucket_ms and self.sums[READINGS]:
            sums = self.sums_full
            self.sums_full = self.sums
            self.sums = sums
            sums[READINGS] = 0
            self.full = 1
            turn = 1
        else:
            self._close_bucket()
            self.bucket_start = ticks.plus(self.bucket_start, hands.bucket_ms)
            if elapsed >= 2 * hands.bucket_ms:
                self.flush()
                self.bucket_start = now_ms
            turn = 1
        gather(self.sums, hands.node, hands.ohm if self.range_now != records.RANGE_OFF else 0)
        self._watch(now_ms, turn)

    def _close_bucket(self):
        sums = self.sums
        if sums[READINGS]:
            self.bucket(1, sums[1], sums[2], sums[3], sums[4], sums[5], sums[6], sums[0])
        else:
            self.flush()
        sums[READINGS] = 0

    def _close_full(self):
        """The bucket that ended with the step of the beat before; its readings were laid aside."""
        sums = self.sums_full
        self.full = 0
        self.bucket(1, sums[1], sums[2], sums[3], sums[4], sums[5], sums[6], sums[0])
        self.bucket_start = ticks.plus(self.bucket_start, self.hands.bucket_ms)

    def bucket(self, span, nmin, nsum, nmax, omin, osum, omax, count):
        """Take ``span`` equal buckets from ``bucket_start`` on: least, sum, greatest, readings.

        Merges what is quiet, looks at the limits, feeds the real sensor's median. A body that
        is not ``sampled`` calls it and moves ``bucket_start`` itself.
        """
        source = records.SOURCE_MOVING if self.moved else self.source
        self.moved = 1 if self.source == records.SOURCE_MOVING else 0
        per = count // span
        if per != self.per:
            self.per = per
            self.per_bits = records.per_code(per)
        word = source << 12 | self.range_now << 10 | self.per_bits
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
                self.open_word | self.open_span << 3,
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
        self.ring.event(records.NOTE, records.NOTE_SELF_CHECK, self.now, off)
        if self.off_checks >= LIMIT_CHECKS:
            self.trip(states.CAUSE_SELF_CHECK)
