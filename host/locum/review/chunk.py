"""What review reads: one stretch of record as plain numpy arrays.

Times are board milliseconds since the start of the drive, unwrapped to 64 bits. Voltages are
tenths of a millivolt, resistances milliohm, both integers; a resistance of ``OPEN_MILLIOHM``
means "more than can be measured". A sample covers ``span_ms`` and holds the least, the mean and
the greatest of ``count`` readings in it: quiet 10 ms buckets are merged, lively ones stand alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np

OPEN_MILLIOHM = 2**30 - 1

SOURCE_REAL = 0
"""Relay at rest: the module sees the real sensor; the ohmmeter sees the stand-in."""
SOURCE_STAND_IN = 1
"""Relay energised: the module sees the stand-in; the ohmmeter sees the real sensor."""
SOURCE_MOVING = 2
"""Changeover, and 10 ms on either side of it: readings mean nothing."""

SAMPLE = np.dtype(
    [
        ("t_ms", "i8"),
        ("span_ms", "i4"),
        ("count", "i4"),
        ("node_min", "i4"),
        ("node_mean", "i4"),
        ("node_max", "i4"),
        ("ohm_min", "i4"),
        ("ohm_mean", "i4"),
        ("ohm_max", "i4"),
        ("source", "u1"),
    ]
)
"""Node in 0.1 mV; the ohmmeter in milliohm, -1 where it was not read."""

EDGE = np.dtype([("t_ms", "i8"), ("line", "u1"), ("level", "u1")])
"""A watch line (1-6) changed; level 1 = voltage high at the pin. Raw, before polarity."""

DUTY = np.dtype([("t_ms", "i8"), ("line", "u1"), ("permille", "i2")])
"""Share of time high over 50 ms, for lines of kind pwm or peak_hold; sent when it changes."""

MARK = np.dtype([("t_ms", "i8"), ("kind", "u1"), ("ago_ms", "i4")])
MARK_BUTTON, MARK_KEY, MARK_FOOT, MARK_BRAKE, MARK_ROAD, MARK_FELT, MARK_NOT_FELT = range(7)
"""Button on the board, mark key, answers after a kick-out's bell, answers to "anything felt?"."""
MARK_NAMES = ("button", "key", "foot", "brake", "road", "felt", "not_felt")

MOVE = np.dtype([("t_ms", "i8"), ("kind", "u1"), ("value", "i4")])
(
    MOVE_RELAY_ON,
    MOVE_RELAY_OFF,
    MOVE_STEP,
    MOVE_OPEN,
    MOVE_SHORT,
    MOVE_THROUGH,
    MOVE_FOLLOW,
    MOVE_RETURN,
) = range(8)
"""What the board itself did. ``value``: of a step, and of each step followed or walked home, the
expected node in 0.1 mV, else 0."""

STATE = np.dtype([("t_ms", "i8"), ("state", "u1"), ("cause", "u1")])
"""The engine's state and, for a trip, its cause (codes of ``locum_board.states``)."""

AUX = np.dtype([("t_ms", "i8"), ("channel", "u1"), ("value", "i4")])
AUX_THROTTLE, AUX_RETURN_OFFSET, AUX_VBUS, AUX_VPOT, AUX_BOARD_C, AUX_SPEED = range(6)
"""Slow channels: 0.1 mV (throttle 0-5 V, return wire against battery negative, supplies),
milli-degC, 0.01 km/h (only from an imported log)."""

GAP = np.dtype([("t_ms", "i8"), ("until_ms", "i8"), ("lost", "i4")])
"""Records known to be lost (overrun, link down, laptop asleep)."""


def _empty(dtype: np.dtype):
    return field(default_factory=lambda: np.empty(0, dtype))


@dataclass
class Chunk:
    """A span of record ``[start_ms, end_ms)``; every array sorted by time."""

    start_ms: int
    end_ms: int
    samples: np.ndarray = _empty(SAMPLE)
    edges: np.ndarray = _empty(EDGE)
    duties: np.ndarray = _empty(DUTY)
    marks: np.ndarray = _empty(MARK)
    moves: np.ndarray = _empty(MOVE)
    states: np.ndarray = _empty(STATE)
    aux: np.ndarray = _empty(AUX)
    gaps: np.ndarray = _empty(GAP)

    def split(self, at_ms: int) -> tuple[Chunk, Chunk]:
        """Two chunks that together are this one; a row belongs to the side its time falls in."""
        head = Chunk(self.start_ms, at_ms)
        tail = Chunk(at_ms, self.end_ms)
        for item in fields(self)[2:]:
            rows = getattr(self, item.name)
            cut = int(np.searchsorted(rows["t_ms"], at_ms))
            setattr(head, item.name, rows[:cut])
            setattr(tail, item.name, rows[cut:])
        return head, tail
