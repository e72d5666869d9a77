"""Synthetic hours of a sensor line with glitches whose truth is known, as the board would record them.

Written from the documented record alone (``locum_board/records.py``, ``review/chunk.py``): a 12-bit
converter of 3.3 V behind a divider of two, 1 kHz, buckets of 10 ms, merged up to a second while all
their readings stay within 16 counts; an ohmmeter that divides the sensor against the nearest of
three references. Shares nothing with review or the virtual world.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from locum.review.chunk import (
    EDGE,
    MOVE,
    MOVE_OPEN,
    MOVE_STEP,
    MOVE_THROUGH,
    OPEN_MILLIOHM,
    SAMPLE,
    SOURCE_REAL,
    SOURCE_STAND_IN,
    Chunk,
)

OPEN_V = 5.0
FULL_V = 6.6
COUNTS = 4096
REFERENCES_OHM = (1500.0, 12_050.0, 100_750.0)
SHORTEST_MS, LONGEST_MS = 20, 500


@dataclass(frozen=True)
class Setting:
    """One vehicle and what happens to its line."""

    name: str
    pull_up_ohm: float = 1000.0
    second_pull_up_ohm: float | None = None
    """In use while the sensor is below ``stage_ohm``. [ohm]"""
    stage_ohm: float = 1000.0
    r20_ohm: float = 2500.0
    beta_k: float = 3500.0
    celsius: float = 90.0
    """Middle of the sensor's slow wandering by +-3 K, or the end of a warm-up. [degC]"""
    warm_up: bool = False
    depth_k: float = 5.0
    masked: bool = False
    """Standing in: the glitches are seen by the ohmmeter alone."""
    noise_v: float = 0.0015
    """Standard deviation of the line's own noise at 1 kHz. [V]"""
    hum_v: float = 0.0
    cranking: bool = False
    own_moves: bool = False
    glitches: bool = True
    quiet_counts: int = 16
    """Readings of a merged row stay within so many counts. [1]"""

    def ohm(self, celsius):
        kelvin = np.asarray(celsius, float) + 273.15
        return self.r20_ohm * np.exp(self.beta_k * (1 / kelvin - 1 / 293.15))

    def node_v(self, ohm):
        volts = OPEN_V * ohm / (ohm + self.pull_up_ohm)
        if self.second_pull_up_ohm:
            second = OPEN_V * ohm / (ohm + self.second_pull_up_ohm)
            volts = np.where(ohm < self.stage_ohm, second, volts)
        return volts


@dataclass
class Truth:
    """Start, length and side of every glitch put in."""

    start_ms: np.ndarray
    length_ms: np.ndarray
    cold: np.ndarray
    chunk: Chunk
    curve: tuple[tuple[float, float], ...] = field(default=())


def record(setting: Setting, minutes: float, seed: int) -> Truth:
    """Minutes of record, a glitch every 4 to 8 s if there are any."""
    rng = np.random.default_rng(seed)
    n = int(minutes * 60_000)
    t = np.arange(n)
    if setting.warm_up:
        celsius = setting.celsius - 70.0 * np.exp(-t / 320_000)
    else:
        celsius = setting.celsius + 3 * np.sin(2 * np.pi * t / 400_000)
    starts, lengths, cold = _drawn(setting, n, rng)
    ohm = setting.ohm(celsius)
    for s, length, is_cold in zip(starts, lengths, cold, strict=True):
        away = celsius[s : s + length] + (-setting.depth_k if is_cold else setting.depth_k)
        ohm[s : s + length] = setting.ohm(away)
    edges, moves = [(0, 3, 1)], []
    if setting.masked:
        volts, meter = setting.node_v(setting.ohm(celsius)), ohm
    else:
        volts, meter = setting.node_v(ohm), None
    if setting.cranking:
        sag = (t > 2000) & (t < 3100)
        volts = np.where(sag, volts * (0.82 + 0.05 * np.sin(2 * np.pi * t / 180)), volts)
        edges = [(0, 3, 0), (500, 3, 1)]
    if setting.own_moves:
        volts = _own_moves(setting, volts, celsius, moves, rng)
    volts = volts + setting.hum_v * np.sin(2 * np.pi * t / 20 + rng.uniform(0, 6))
    source = SOURCE_STAND_IN if setting.masked or setting.own_moves else SOURCE_REAL
    samples = _recorded(volts, meter, source, setting, rng)
    chunk = Chunk(
        0, n, samples=samples, edges=np.array(edges, EDGE), moves=np.array(sorted(moves), MOVE)
    )
    grid = np.linspace(-45, 160, 60)
    return Truth(
        starts,
        lengths,
        cold,
        chunk,
        tuple(zip(setting.ohm(grid).tolist(), grid.tolist(), strict=True)),
    )


def _drawn(setting: Setting, n: int, rng) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    if not setting.glitches:
        return np.empty(0, int), np.empty(0, int), np.empty(0, bool)
    starts = 40_000 + np.cumsum(rng.integers(4000, 8000, n // 4000))
    starts = starts[starts < n - 4000]
    span = np.log([SHORTEST_MS, LONGEST_MS])
    lengths = np.ceil(np.exp(rng.uniform(*span, len(starts)))).astype(int)
    return starts, lengths, rng.random(len(starts)) < 0.5


def _own_moves(setting: Setting, volts, celsius, moves: list, rng):
    """A ladder walk by 0.2 K every second, and an open of our own each half minute."""
    told = np.floor(celsius / 0.2) * 0.2
    volts = setting.node_v(setting.ohm(told))
    for at in np.flatnonzero(np.diff(told)) + 1:
        moves.append((int(at), MOVE_STEP, round(float(volts[at]) * 1e4)))
    moves.append((0, MOVE_STEP, round(float(volts[0]) * 1e4)))
    for start in range(20_000, len(volts) - 2000, 30_000):
        length = int(rng.integers(40, 600))
        volts[start : start + length] = OPEN_V
        moves += [(start, MOVE_OPEN, 0), (start + length, MOVE_THROUGH, 0)]
    return volts


def _recorded(volts, meter, source: int, setting: Setting, rng) -> np.ndarray:
    """Buckets of 10 ms, merged as the board merges them."""
    buckets = len(volts) // 10
    node = _counts(volts[: buckets * 10] / FULL_V, setting.noise_v / FULL_V, rng).reshape(
        buckets, 10
    )
    low, high, total = node.min(1), node.max(1), node.sum(1)
    if meter is None:
        olow = ohigh = ototal = np.zeros(buckets, int)
        reference = 0.0
    else:
        middle = float(np.median(meter))
        reference = min(REFERENCES_OHM, key=lambda r: abs(np.log(r / middle)))
        share = meter[: buckets * 10] / (meter[: buckets * 10] + reference)
        ohm = _counts(share, 0.3 / COUNTS, rng).reshape(buckets, 10)
        olow, ohigh, ototal = ohm.min(1), ohm.max(1), ohm.sum(1)
    firsts = _first_of_rows(low, high, olow, ohigh, setting.quiet_counts)
    spans = np.diff(np.append(firsts, buckets))
    rows = np.zeros(len(firsts), SAMPLE)
    rows["t_ms"], rows["span_ms"], rows["count"] = 10 * firsts, 10 * spans, 10 * spans
    rows["source"] = source
    for name, values in (("min", np.minimum.reduceat(low, firsts)),
                         ("mean", np.add.reduceat(total, firsts) / (10 * spans)),
                         ("max", np.maximum.reduceat(high, firsts))):  # fmt: skip
        rows[f"node_{name}"] = np.round(values * (FULL_V * 1e4 / COUNTS))
    for name, values in (("min", np.minimum.reduceat(olow, firsts)),
                         ("mean", np.add.reduceat(ototal, firsts) / (10 * spans)),
                         ("max", np.maximum.reduceat(ohigh, firsts))):  # fmt: skip
        rows[f"ohm_{name}"] = -1 if meter is None else _milliohm(values, reference)
    return rows


def _counts(share, noise, rng) -> np.ndarray:
    ideal = share * COUNTS + rng.normal(0, np.hypot(noise * COUNTS, 0.35), len(share))
    return np.clip(np.floor(ideal + 0.5), 0, COUNTS - 1).astype(int)


def _milliohm(counts, reference: float):
    left = np.maximum(COUNTS - counts, 1e-9)
    return np.where(counts >= COUNTS - 2, OPEN_MILLIOHM, np.minimum(1e3 * reference * counts / left, OPEN_MILLIOHM))  # fmt: skip


def _first_of_rows(low, high, olow, ohigh, quiet: int) -> np.ndarray:
    """First bucket of each row: a row grows while all of it stays quiet, to a second."""
    firsts, i, n = [], 0, len(low)
    while i < n:
        firsts.append(i)
        end = min(i + 100, n)
        grown = (
            np.maximum.accumulate(high[i:end]) - np.minimum.accumulate(low[i:end]) <= quiet
        ) & (np.maximum.accumulate(ohigh[i:end]) - np.minimum.accumulate(olow[i:end]) <= 16)  # fmt: skip
        out = np.flatnonzero(~grown[1:])
        i += 1 + (int(out[0]) if len(out) else len(grown) - 1)
    return np.array(firsts)


SETTINGS = (
    Setting("pull-up 1k, 2.5k sensor, 90 degC"),
    Setting("pull-up 1k, 2.5k sensor, -15 degC", celsius=-15),
    Setting("pull-up 1k, 8k sensor, -20 degC", r20_ohm=8000, celsius=-20, quiet_counts=10),
    Setting("pull-up 2k2, 2.5k sensor, 110 degC", pull_up_ohm=2200, celsius=110),
    Setting("pull-up 10k, 8k sensor, 90 degC", pull_up_ohm=10_000, r20_ohm=8000, quiet_counts=11),
    Setting("pull-up 10k, 2.5k sensor, 90 degC", pull_up_ohm=10_000, quiet_counts=4),
    Setting("pull-up 10k, 2.5k sensor, 110 degC", pull_up_ohm=10_000, celsius=110, quiet_counts=4),
    Setting("warm-up from cold", warm_up=True),
    Setting("second pull-up from 10k to 909 ohm, warm-up", pull_up_ohm=10_000,
            second_pull_up_ohm=909, warm_up=True),
    Setting("under the mask, 90 degC", masked=True),
    Setting("under the mask, -20 degC", masked=True, celsius=-20),
    Setting("under the mask, 8k sensor, 110 degC", masked=True, r20_ohm=8000, celsius=110),
    Setting("noise of 8 mV", noise_v=0.008),
    Setting("mains hum of 20 mV", hum_v=0.02),
    Setting("mains hum of 50 mV", hum_v=0.05),
    Setting("cranking", cranking=True),
    Setting("our own steps and opens", own_moves=True, glitches=False),
)  # fmt: skip
"""What ``bench_review_glitches.py`` prints; quiet counts as ``jobs/quiet_band.py`` chooses them."""
