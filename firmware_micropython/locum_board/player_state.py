"""What the player knows, and what its parts ask of one another.

The parts (playing, walking, relaying and so on) are each a class of methods on one state, which is
made here, once and whole: a later attribute would allocate in the interrupt. The annotations name
the calls that cross from one part to another; MicroPython drops them, the type checker needs them.
"""

from array import array

from . import records, states, steps
from .mailbox import DONE, ORDER_NONE

PHASE_IDLE, PHASE_CLOSING, PHASE_CLOSED, PHASE_OPENED = range(4)
"""Of the relay; see ``relaying.py``."""
LATE_EDGES_US = (50, 100, 150, 200, 300, 500, 1000, 2000, 5000)
"""Upper edges of the classes that lateness is counted in; one more class has none."""
LATE_CLASSES = len(LATE_EDGES_US) + 1
MEDIAN_WINDOWS = 20  # of the real sensor, 5 s
OPEN_MILLIOHM = 0x3FFFFFFF

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable

    from .hands import Hands
    from .records import Ring
    from .room import Room


class PlayerState:
    """``hands``: see ``hands.py``; ``ring``: ``records.Ring``; ``room``: ``room.Room``."""

    # player.py
    trip: "Callable[[int], None]"
    _become: "Callable[[int, int], None]"
    _rest: "Callable[[int], None]"
    # obeying.py
    _apply: "Callable[[int, int, int, int, int, int, int], None]"
    _end_contact: "Callable[[], None]"
    _hold: "Callable[[int], None]"
    _set_contact: "Callable[[int], None]"
    _told_move: "Callable[[int], None]"
    # playing.py
    forget_waiting: "Callable[[], None]"
    _append: "Callable[[], int]"
    _play: "Callable[[int], None]"
    _swap_plan: "Callable[[], None]"
    # walking.py
    _go_home: "Callable[[int], None]"
    _start_walk: "Callable[[], None]"
    _take_rung: "Callable[[int], None]"
    # relaying.py, sampling.py, sensing.py, watching.py, measuring.py
    _close_relay: "Callable[[], None]"
    _range: "Callable[[int], None]"
    _close_full: "Callable[[], None]"
    _end_window: "Callable[[], None]"
    _forget_real: "Callable[[], None]"
    _window: "Callable[[int, int, int, int, int], None]"
    _watch: "Callable[[int, int], None]"
    _start_measure: "Callable[[], None]"

    def __init__(self, hands: "Hands", ring: "Ring", room: "Room"):
        self.hands = hands
        self.ring = ring
        self.now = 0
        self.started = 0
        self.alive = 0
        self.state = states.REST
        self.cause = states.CAUSE_POWER
        self.source = records.SOURCE_REAL

        self.order = ORDER_NONE
        self.order_args = array("i", [0] * 8)
        self.reply = DONE

        # plan: two buffers, the active one and the one being filled or waiting
        self.buffers = room.plans
        self.active = 0
        self.buffer = self.buffers[0]
        self.count = 0
        self.next_ready = 0
        self.next_count = 0
        self.first_step = 0
        self.total_steps = 0
        self.plan_flags = 0
        self.plan_standing_ms = 0
        self.position = 0
        self.row = array("H", [0] * 7)  # the step being done
        self.step_number = -1
        self.step_due = 0
        self.repeat_at = -1
        self.repeat_left = 0
        self.late_plan = 0
        self.plan_running = 0
        self.worst_late_ms = 0
        self.late_steps = 0
        self.steps_done = 0
        self.lateness = array("H", [0] * LATE_CLASSES)
        self.worst_late_us = 0
        self.missed = 0  # beats that did not come; counted by who drives the player

        # the network as it is
        self.w0 = self.w1 = self.w2 = self.w3 = steps.OUT
        self.hot = 0
        self.node_wanted = steps.NODE_UNKNOWN
        self.tolerance = 0
        self.set_milliohm = -1
        self.rung = -1
        self.contact = steps.THROUGH
        self.plan_contact = steps.THROUGH
        self.contact_by_hand = 0
        self.contact_due = 0
        self.contact_timed = 0
        self.changed_ms = 0

        # ladder
        self.ladder = room.ladder
        self.rungs = 0
        self.follow_rate = 300
        self.return_rate = 1000
        self.following = 0
        self.credit = 0
        self.walk_due = 0
        self.return_from = 0

        # relay
        self.phase = PHASE_IDLE
        self.phase_due = 0
        self.relay_on = 0
        self.range_real = 1
        self.range_stand_in = records.RANGE_OFF
        self.range_now = records.RANGE_OFF

        # silence and the longest time away
        self.heard_ms = 0
        self.silent = 0
        self.hold_ms = 3000
        self.paused = 0
        self.paused_ms = 0
        self.hand_standing_ms = 1200000
        self.standing_from = 0
        self.standing_ms = 0

        # limits
        self.hot_milliohm = 0
        self.hot_falls = 1
        self.sane_low = 1
        self.sane_high = OPEN_MILLIOHM - 1
        self.high_count = self._counts(hands.line_high_0v1mv)
        self.low_count = self._counts(hands.line_low_0v1mv)
        self.off_checks = 0
        self.check_ms = 0

        # bucket being filled
        self.bucket_start = 0
        self.sums = array("i", [0] * 7)
        self.sums_full = array("i", [0] * 7)
        self.full = 0  # a bucket that ended with a step waits there for the next beat
        self.stepped = 0  # this beat has done a step, and the next one will not
        self.per = 0  # readings of the last bucket, and their code
        self.per_bits = 0
        self.moved = 1  # the relay moved within this bucket
        # merged buckets not put into the ring yet
        self.open_span = 0
        self.open_start = 0
        self.open_word = 0
        self.open_count = 0
        self.open_node_min = self.open_node_max = self.open_node_sum = 0
        self.open_ohm_min = self.open_ohm_max = self.open_ohm_sum = 0
        self.quiet_node = 16
        self.quiet_ohm = 16
        self.last_node16 = -1
        self.last_ohm16 = -1
        self.last_bucket_ms = 0

        # real sensor: window, and the sorted values of the last 20
        self.window_span = 0
        self.window_sum = 0
        self.window_count = 0
        self.window_min = 4095
        self.window_max = 0
        self.window_full = 0
        self.ages = array("H", [0] * MEDIAN_WINDOWS)
        self.sorted = array("H", [0] * MEDIAN_WINDOWS)
        self.windows = 0
        self.oldest = 0
        self.blind = 0
        self.real_milliohm = -1

        # lines
        self.levels = 0
        self.lines_known = 0
        self.kinds = bytearray(6)
        self.edges = array("H", [0] * 6)
        self.high_from = array("i", [0] * 6)
        self.high_ms = array("i", [0] * 6)
        self.duty_told = array("h", [-1] * 6)
        self.duty_due = 0
        self.edge_due = 0
        self.edges_lost = 0
        self.lines_told = 6  # of a record that begins
        self.button_down = 0
        self.button_ms = 0
        self.aux_due = 0
        self.aux_turn = 0
        self.aux_told = array("i", [-(1 << 29)] * 6)
        self.aux_told_ms = array("i", [0] * 6)

        # self-calibration reading
        self.measuring = 0  # 1 settle, 2 on, 3 settle, 4 off
        self.measure_range = 0
        self.measure_count = 0
        self.measure_left = 0
        self.measure_due = 0
        self.measure_on = 0
        self.measure_off = 0

    def _counts(self, limit_0v1mv):
        return limit_0v1mv * 4096 // self.hands.node_full_0v1mv
