"""What 8-byte slots say, as arrays in 0.1 mV and milliohm; their places in time are given.

Layout: ``locum_board/records.py``.
"""

from __future__ import annotations

import numpy as np

from locum.recording.blocks import Scale
from locum.review.chunk import AUX, DUTY, EDGE, MARK, MOVE, OPEN_MILLIOHM, SAMPLE, STATE
from locum_board import records
from locum_board.sensing import OPEN_16


def values_of(slots: np.ndarray) -> np.ndarray:
    """Each slot's value: word 3, or what its continuation says. int64[n]"""
    values = slots[:, 3].astype("i8")
    more = np.flatnonzero(slots[1:, 0] >> 14 == 3)
    wide = slots[more + 1].astype("i8")
    whole = wide[:, 1] | wide[:, 2] << 16
    values[more] = np.where(whole >= 1 << 31, whole - (1 << 32), whole)
    return values


def events_of(word, kinds, times, values) -> dict[str, np.ndarray]:
    found = {}
    for name, kind, dtype, fill in _EVENTS:
        at = np.flatnonzero(kinds == kind)
        if not len(at):
            continue
        rows = np.empty(len(at), dtype)
        rows["t_ms"] = times[at]
        fill(rows, word[at] & 0xFF, values[at])
        found[name] = rows
    return found


def _edge(rows, sub, value) -> None:
    rows["line"], rows["level"] = sub >> 1, sub & 1


def _duty(rows, sub, value) -> None:
    rows["line"], rows["permille"] = sub, value


def _mark(rows, sub, value) -> None:
    rows["kind"], rows["ago_ms"] = sub, value


def _move(rows, sub, value) -> None:
    rows["kind"], rows["value"] = sub, np.where(value == 0xFFFF, 0, value * 5)


def _state(rows, sub, value) -> None:
    rows["state"], rows["cause"] = sub, value


def _aux(rows, sub, value) -> None:
    rows["channel"], rows["value"] = sub, value


_EVENTS = (
    ("edges", records.EDGE, EDGE, _edge),
    ("duties", records.DUTY, DUTY, _duty),
    ("marks", records.MARK, MARK, _mark),
    ("moves", records.MOVE, MOVE, _move),
    ("states", records.STATE, STATE, _state),
    ("aux", records.AUX, AUX, _aux),
)
EVENT_NAMES = tuple(name for name, *_ in _EVENTS)


def samples_of(slots: np.ndarray, at: np.ndarray, starts, spans, scale: Scale) -> np.ndarray:
    """Samples in physical units; ``at``: indices of the samples' first slots in ``slots``."""
    words = slots[at].astype("i8")
    word = words[:, 0]
    rows = np.empty(len(at), SAMPLE)
    rows["t_ms"], rows["span_ms"] = starts, spans
    rows["count"] = (spans // scale.bucket_ms) * np.array(records.PER)[word & 7]
    rows["source"] = word >> 12 & 3
    full = scale.node_full_0v1mv
    node16, ohm16 = words[:, 1], words[:, 2]
    spread = words[:, 3]
    low, high = (node16 >> 4) - (spread >> 12), (node16 >> 4) + (spread >> 8 & 15)
    olow, ohigh = (ohm16 >> 4) - (spread >> 4 & 15), (ohm16 >> 4) + (spread & 15)
    lively = np.flatnonzero(word & 0x4000)
    if len(lively):
        more = slots[at[lively] + 1].astype("i8")
        low[lively], high[lively] = spread[lively], more[:, 1]
        olow[lively], ohigh[lively] = more[:, 2], more[:, 3]
    rows["node_mean"] = (node16 * full + 32768) >> 16
    rows["node_min"] = (low * full + 2048) >> 12
    rows["node_max"] = (high * full + 2048) >> 12
    _ohms(rows, word >> 10 & 3, (olow * 16, ohm16, ohigh * 16), scale)
    return rows


def _ohms(rows: np.ndarray, number: np.ndarray, sixteenths, scale: Scale) -> None:
    """Ohmmeter counts to milliohm with the reference of each sample's range."""
    if np.all(number == records.RANGE_OFF):
        rows["ohm_min"] = rows["ohm_mean"] = rows["ohm_max"] = -1
        return
    reference = np.array([*scale.range_milliohm, 0], float)[number]
    for name, value16 in zip(("ohm_min", "ohm_mean", "ohm_max"), sixteenths, strict=True):
        x = np.clip(value16 - scale.ohm_offset16, 0, OPEN_16) / 65536.0
        ohm = np.minimum(reference * x / (1.0 - x), OPEN_MILLIOHM)
        ohm[value16 >= OPEN_16] = OPEN_MILLIOHM
        ohm[number == records.RANGE_OFF] = -1
        rows[name] = np.rint(ohm)
