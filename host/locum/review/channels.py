"""The node and the ohmmeter as channels: rows prepared, departures named as glitches."""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from locum.review.chunk import OPEN_MILLIOHM, SAMPLE, SOURCE_MOVING, SOURCE_REAL, SOURCE_STAND_IN
from locum.review.context import Context
from locum.review.departures import Departure, Departures, Rows, is_noise
from locum.review.findings import TEMPERATURE, Findings, Glitch
from locum.review.moves import OwnMoves
from locum.review.reference import middle_by_group
from locum.review.scale import OPEN_OHM, Scale

BURST_MS = 1000
CRANKING_MS = 30_000
"""A single sag of the node this soon after the ignition came on is the starter's."""
AFTER_MS = 500
"""A departure is handed on this long after its end, when a loss of supply would be known."""


class Channel:
    """One way of seeing the sensor line; hands on its glitches."""

    def __init__(self, name: str, context: Context, scale: Scale) -> None:
        self.name = name
        self._context = context
        self._scale = scale
        self._departures = Departures(context.glitch_k, self._over)
        self._waiting: deque[Departure] = deque()
        self._burst = 0
        self._burst_end = -1e18
        self._sagged_for: float | None = None

    def feed(
        self, samples: np.ndarray, segment: np.ndarray, moves: OwnMoves
    ) -> tuple[np.ndarray, np.ndarray]:
        """Samples of whole seconds; returns the sensor's resistance track (TEMPERATURE rows), and
        whether each of them is a temperature: a second that a glitch fills is none."""
        keep, rows = self._rows(samples, segment, moves)
        if not keep.any():
            return np.empty(0, TEMPERATURE), np.empty(0, bool)
        times, out = self._departures.feed(rows)
        return self._track(samples[keep], times, ~out)

    def _rows(self, samples, segment, moves: OwnMoves) -> tuple[np.ndarray, Rows]:
        start, end = samples["t_ms"], samples["t_ms"] + samples["span_ms"]
        if self.name == "node":
            keep = (samples["source"] != SOURCE_MOVING) & (samples["count"] > 0)
            keep &= ~moves.spared(start, end)
            return keep, self._node_rows(samples[keep], segment[keep], moves)
        keep = (samples["source"] == SOURCE_STAND_IN) & (samples["ohm_mean"] >= 0)
        keep &= ~moves.near_relay(start, end)
        return keep, self._ohm_rows(samples[keep], segment[keep])

    def _node_rows(self, samples, segment, moves: OwnMoves) -> Rows:
        volts = [samples[name] / 1e4 for name in ("node_max", "node_mean", "node_min")]
        scaled = [self._scale.node_kelvin(v) for v in volts]
        standing = samples["source"] == SOURCE_STAND_IN
        if standing.any():
            expected = np.where(standing, moves.expected_k(samples["t_ms"]), 0.0)
            scaled = [[stage - expected for stage in stages] for stages in scaled]
        ohm_high, ohm_low = (self._scale.ohm_from_node(volts[i]) for i in (0, 2))
        end = samples["t_ms"] + samples["span_ms"]
        return Rows(
            samples["t_ms"],
            end,
            segment,
            samples["source"],
            kelvin=(scaled[0], scaled[1], scaled[2]),
            linear=(volts[0], volts[1], volts[2]),
            ohm=(ohm_high, ohm_low),
        )

    def _ohm_rows(self, samples, segment) -> Rows:
        ohms = [samples[name] / 1e3 for name in ("ohm_max", "ohm_mean", "ohm_min")]
        scaled = [[self._scale.kelvin(ohm)] for ohm in ohms]
        # the share of a row comes from the mean of a divider, which is linear in R / (R + R0)
        reference = np.maximum(ohms[2], 500.0)
        linear = [ohm / (ohm + reference) for ohm in ohms]
        end = samples["t_ms"] + samples["span_ms"]
        return Rows(
            samples["t_ms"],
            end,
            segment,
            samples["source"],
            kelvin=(scaled[0], scaled[1], scaled[2]),
            linear=(linear[0], linear[1], linear[2]),
            ohm=(ohms[0], ohms[2]),
        )

    def _track(self, samples, times: np.ndarray, steady) -> tuple[np.ndarray, np.ndarray]:
        firsts = np.searchsorted(samples["t_ms"], times)
        weights = np.maximum(samples["span_ms"], 1)
        track = np.zeros(len(times), TEMPERATURE)
        track["t_ms"] = times
        if self.name == "ohmmeter":
            track["milliohm"] = middle_by_group(samples["ohm_mean"], weights, firsts)
            return track, steady
        node_v = middle_by_group(samples["node_mean"], weights, firsts) / 1e4
        ohm = self._scale.ohm_from_node(node_v)
        track["milliohm"] = np.minimum(ohm * 1e3, OPEN_MILLIOHM)
        rows = (samples["source"][firsts] == SOURCE_REAL) & self._scale.known
        return track[rows], steady[rows]

    def _over(self, departure: Departure) -> None:
        self._waiting.append(departure)

    def spans_until(self, t_ms: int, supply: list[tuple[int, bool]]) -> list[tuple[float, float]]:
        """(start, end) of glitches not handed on yet, as they stood at a time. [ms]"""
        under_way = self._departures.under_way
        spans = []
        for departure in [*self._waiting, *([under_way] if under_way else [])]:
            end_ms = min(departure.end_ms, t_ms)
            lasted = min(departure.length_ms, end_ms - departure.t_ms)
            if lasted < self._context.shortest_ms or is_noise(departure, self._context.shortest_ms):
                continue
            if not self._excused(departure, end_ms, lasted, supply):
                spans.append((departure.t_ms, end_ms))
        return spans

    def hand_on(self, until_ms: float, supply: list[tuple[int, bool]], findings: Findings) -> list:
        """Departures that ended by ``until_ms`` become glitches, noise or nothing."""
        glitches = []
        while self._waiting and self._waiting[0].end_ms <= until_ms:
            departure = self._waiting.popleft()
            if departure.length_ms < self._context.shortest_ms:
                continue
            if self._excused(departure, departure.end_ms, departure.length_ms, supply):
                continue
            if is_noise(departure, self._context.shortest_ms):
                findings.noise.append((int(departure.t_ms), int(departure.length_ms)))
                continue
            glitches.append(self._glitch(departure))
        return glitches

    def _excused(self, departure: Departure, end_ms: float, lasted_ms: float, supply) -> bool:
        """True for losses of supply, switching on, cranking: no glitches."""
        if self.name == "ohmmeter":
            return False
        start = departure.t_ms
        quiet_ms = self._context.start_quiet_ms
        for t_ms, on in supply:
            if not on and t_ms - 1000 <= end_ms and start <= t_ms + 300:
                return True
            if on and t_ms - 300 <= start <= t_ms + quiet_ms:
                return True
        latest = max((t for t, on in supply if on and t <= start), default=None)
        off = any(not on and t <= start and (latest is None or t > latest) for t, on in supply)
        return off or self._cranking(departure, lasted_ms, latest)

    def _cranking(self, departure: Departure, lasted_ms: float, on_ms: int | None) -> bool:
        if on_ms is None or departure.t_ms - on_ms > CRANKING_MS:
            return False
        sags = departure.hot_k > departure.cold_k and departure.extreme_ohm > 20.0
        if not sags or lasted_ms < 100 or self._sagged_for not in (None, departure.t_ms):
            return False
        self._sagged_for = departure.t_ms
        return True

    def _glitch(self, departure: Departure) -> Glitch:
        if departure.t_ms - self._burst_end > BURST_MS:
            self._burst += 1
        self._burst_end = departure.end_ms
        cold = departure.cold_k >= departure.hot_k
        depth_ohm = departure.extreme_ohm
        if self.name == "node" and not self._scale.known:
            depth_ohm = math.nan
        if departure.extreme_ohm >= 0.98 * OPEN_OHM:
            depth_ohm = math.inf
        out_of_range = departure.extreme_ohm > 1e6 or departure.extreme_ohm < 5.0
        place = "sensor" if self.name == "ohmmeter" else "circuit"
        if self.name == "node" and departure.source == SOURCE_STAND_IN:
            place = "line"
        kind = "step" if departure.step else "range" if out_of_range else "rate"
        return Glitch(
            int(departure.t_ms),
            round(departure.length_ms, 1),
            "cold" if cold else "hot",
            depth_ohm,
            round(departure.cold_k if cold else departure.hot_k, 2),
            self.name,
            place,
            kind,
            self._burst,
        )

    def finish(self) -> None:
        self._departures.finish()


class Samples:
    """Holds samples back until whole seconds of them can be judged."""

    SETTLES_MS = 40

    def __init__(self) -> None:
        self._held = np.empty(0, SAMPLE)
        self._source: int | None = None
        self._segment = 0

    def take(self, samples: np.ndarray, until_ms: int) -> tuple[np.ndarray, np.ndarray]:
        """Samples of the seconds that ended 40 ms before ``until_ms``, and their segments."""
        held = np.concatenate((self._held, samples)) if len(samples) else self._held
        limit = (until_ms - self.SETTLES_MS) // 1000 * 1000
        count = int(np.searchsorted(held["t_ms"], limit))
        ready, self._held = held[:count], held[count:].copy()
        if count == 0:
            return ready, np.empty(0, "i8")
        previous = ready["source"][0] if self._source is None else self._source
        changes = np.diff(ready["source"].astype(int), prepend=int(previous)) != 0
        segment = self._segment + np.cumsum(changes)
        self._segment, self._source = int(segment[-1]), int(ready["source"][-1])
        return ready, segment
