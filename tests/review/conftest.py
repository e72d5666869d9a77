"""Synthetic records with a known truth, made here from the documented record format alone."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from locum.review import Context, LineSpec, StatePattern
from locum.review.chunk import (
    AUX,
    DUTY,
    EDGE,
    GAP,
    MARK,
    MOVE,
    OPEN_MILLIOHM,
    SAMPLE,
    Chunk,
)

OPEN_V, PULL_UP = 5.0, 1000.0


def _ohm(celsius):
    """A beta sensor of 2,500 ohm at 20 degC, beta 3,500 K."""
    kelvin = np.asarray(celsius, float) + 273.15
    return 2500.0 * np.exp(3500.0 * (1 / kelvin - 1 / 293.15))


def _buckets(node_v, ohm, source, start_ms, noise_v, rng, quiet=True):
    """1 kHz traces to SAMPLE rows: 10 ms buckets, quiet ones merged up to 1 s."""
    count = len(node_v) // 10
    volts = np.round((node_v[: count * 10] + rng.normal(0, noise_v, count * 10)) / 0.0016) * 0.0016
    volts = np.clip(volts, 0, 5.2).reshape(count, 10)
    rows = np.zeros(count, SAMPLE)
    rows["t_ms"] = start_ms + 10 * np.arange(count)
    rows["span_ms"], rows["count"] = 10, 10
    rows["node_min"] = np.round(volts.min(1) * 1e4)
    rows["node_mean"] = np.round(volts.mean(1) * 1e4)
    rows["node_max"] = np.round(volts.max(1) * 1e4)
    if ohm is None:
        rows["ohm_min"] = rows["ohm_mean"] = rows["ohm_max"] = -1
    else:
        reading = ohm[: count * 10].reshape(count, 10) * (1 + rng.normal(0, 0.001, (count, 10)))
        limited = np.minimum(reading * 1e3, OPEN_MILLIOHM)
        share = (reading / (reading + 1500.0)).mean(1)
        mean = 1500.0 * share / np.maximum(1 - share, 1e-9)
        rows["ohm_min"], rows["ohm_max"] = limited.min(1), limited.max(1)
        rows["ohm_mean"] = np.minimum(mean * 1e3, OPEN_MILLIOHM)
    rows["source"] = source
    return _merged(rows) if quiet else rows


def _merged(rows):
    """Send on delta: a bucket near the last one sent joins it, for at most a second."""
    lively = 150  # 15 mV
    out, i = [], 0
    low, high, mean = (rows[n].astype(int) for n in ("node_min", "node_max", "node_mean"))
    ohm, ohm_low, ohm_high = (rows[f"ohm_{n}"].astype(float) for n in ("mean", "min", "max"))
    while i < len(rows):
        j = i + 1
        end = min(i + 100, len(rows))
        near = (
            (abs(high[i:end] - mean[i]) < lively)
            & (abs(low[i:end] - mean[i]) < lively)
            & (abs(ohm_high[i:end] - ohm[i]) < 0.03 * abs(ohm[i]) + 1)
            & (abs(ohm_low[i:end] - ohm[i]) < 0.03 * abs(ohm[i]) + 1)
        )
        stop = np.flatnonzero(~near[1:])
        j = i + 1 + (int(stop[0]) if len(stop) else len(near) - 1)
        if not near[0]:
            j = i + 1
        part = rows[i:j]
        row = part[0].copy()
        row["span_ms"], row["count"] = part["span_ms"].sum(), part["count"].sum()
        for name in ("node", "ohm"):
            row[f"{name}_min"] = part[f"{name}_min"].min()
            row[f"{name}_max"] = part[f"{name}_max"].max()
            row[f"{name}_mean"] = int(part[f"{name}_mean"].mean())
        out.append(row)
        i = j
    return np.array(out, SAMPLE)


def _node(ohm):
    return OPEN_V * ohm / (ohm + PULL_UP)


def _edges(*items):
    return np.array(sorted(items), EDGE) if items else np.empty(0, EDGE)


def _make_chunk(end_ms, **arrays):
    kinds = {"samples": SAMPLE, "edges": EDGE, "duties": DUTY, "marks": MARK, "moves": MOVE}
    kinds.update(aux=AUX, gaps=GAP)
    return Chunk(0, end_ms, **{n: np.array(v, kinds[n]) for n, v in arrays.items()})


def _cut(chunk, cuts):
    """The chunk in pieces, cut at the given times."""
    parts, rest = [], chunk
    for at_ms in sorted(set(cuts)):
        if rest.start_ms < at_ms < rest.end_ms:
            head, rest = rest.split(at_ms)
            parts.append(head)
    return [*parts, rest]


VAN = Context(
    lines=(
        LineSpec(1, "converter clutch", role="output"),
        LineSpec(2, "brake", role="brake"),
        LineSpec(3, "ignition feed", role="ignition"),
    ),
    patterns=(
        StatePattern("locked", ((1, True),), held=True),
        StatePattern("unlocked", ((1, False),)),
    ),
    open_v=OPEN_V,
    pull_up_ohm=PULL_UP,
    module_delay_ms=(100, 1000),
)


@pytest.fixture
def made():
    """Everything a test needs to make a record."""
    return SimpleNamespace(
        ohm=_ohm, buckets=_buckets, node=_node, edges=_edges, chunk=_make_chunk, cut=_cut, van=VAN
    )
