"""How long the record lasts while nobody fetches it; answers TRACe:TIME?.

Two rates follow from the rules by which rows are made: the least, when nothing moves, and the most
that samples, lines and slow channels can make together. What a car makes lies between, so it is
counted by the minute.
"""

from . import records, ticks
from .watching import AUX_AGAIN_MS, AUX_MS, DUTY_MS, EDGES_MOST, EDGES_MS

COUNTED_MS = 60000
SLOW_CHANNELS = 5
BEGINNING = 12  # slots: time, state, relay and contact, six lines, the silence and that it ended
QUIET_MS = AUX_AGAIN_MS  # quiet rows come round in this time
BUSY_MS = EDGES_MS  # and busy ones in this


def quiet_slots(bucket_ms):
    """Slots in QUIET_MS at rest: merged samples, each slow channel, one of them below zero."""
    return -(-QUIET_MS // (records.MAX_SPAN * bucket_ms)) + SLOW_CHANNELS + 1


def busy_slots(bucket_ms, lines):
    """Slots in BUSY_MS at most: nothing merges, every line is flooded, slow channels below zero."""
    samples = -(-BUSY_MS // bucket_ms)
    a_line = EDGES_MOST + BUSY_MS // DUTY_MS + 1
    return 2 * (samples + BUSY_MS // AUX_MS + 1) + lines * a_line


class Keeping:
    """Counts what ``ring`` was given, by the minute."""

    def __init__(self, ring, hands, now_ms):
        self.ring = ring
        self.hands = hands
        self._since = now_ms
        self._head = ring.head
        self._made = 0  # slots in the last whole minute, and its length; 0: none was whole yet
        self._took_ms = 0

    def look(self, now_ms):
        """Close the minute if it is over."""
        elapsed = ticks.after(self._since, now_ms)
        if elapsed >= COUNTED_MS:
            self._took_ms = elapsed
            self._made = self.ring.head - self._head
            self._since = now_ms
            self._head = self.ring.head

    def seconds(self, now_ms):
        """Seconds to a full record at the last minute's rate; of an empty one, quiet and busiest."""
        ring = self.ring
        left = ring.slots - records.RESERVE - ring.waiting()
        room = ring.slots - records.RESERVE - BEGINNING
        bucket_ms = self.hands.bucket_ms
        quiet = quiet_slots(bucket_ms)
        made = self._made
        took_ms = self._took_ms
        if not took_ms:
            made = ring.head - self._head
            took_ms = max(QUIET_MS, ticks.after(self._since, now_ms))
        if made * QUIET_MS < quiet * took_ms:
            made = quiet
            took_ms = QUIET_MS
        return (
            left * took_ms // made // 1000 if left > 0 else 0,
            room * QUIET_MS // quiet // 1000,
            room * BUSY_MS // busy_slots(bucket_ms, self.hands.line_count) // 1000,
        )
