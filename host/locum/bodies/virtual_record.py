"""What the virtual board hears, handed to its player: buckets, edges, duties, slow channels.

A body without a 1 kHz beat makes these itself (``Hands.sampled`` is False). A stretch in which nothing
leaves the engine's quiet band goes to the engine as one bucket, lively ones go one by one, so that the
record is the same kind a board's is.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from locum.bodies.virtual_hands import VirtualHands
from locum_board import records, ticks
from locum_board.watching import DUTY_MS

BUCKET_MS = 10
SLOW_EVERY_MS = 1000
VPOT_0V1MV = 53000


class Buckets:
    """Counts at 1 kHz as buckets into the player; what does not fill one waits for the next."""

    def __init__(self, player: Any, hands: VirtualHands, tick: int) -> None:
        self._player = player
        self._hands = hands
        self._node_rest = np.empty(0, np.int32)
        self._ohm_rest = np.empty(0, np.int32)
        self._rest_start = tick

    def take(self, node: np.ndarray, ohm: np.ndarray, tick: int) -> None:
        """Counts of a stretch from ``tick`` on, one each millisecond."""
        player = self._player
        if len(self._node_rest):
            node = np.concatenate((self._node_rest, node))
            ohm = np.concatenate((self._ohm_rest, ohm))
            tick = self._rest_start
        if ticks.after(tick, player.bucket_start) > 0:
            # The record was begun anew within a bucket.
            skip = min(len(node), ticks.after(tick, player.bucket_start))
            node, ohm, tick = node[skip:], ohm[skip:], ticks.plus(tick, skip)
        whole = len(node) // BUCKET_MS
        used = whole * BUCKET_MS
        self._node_rest, self._ohm_rest = node[used:], ohm[used:]
        self._rest_start = ticks.plus(tick, used)
        if whole and player.moved and whole > 1:
            self._give(node[:BUCKET_MS], ohm[:BUCKET_MS], tick, 1)
            node, ohm, tick = node[BUCKET_MS:], ohm[BUCKET_MS:], ticks.plus(tick, BUCKET_MS)
            whole -= 1
        if whole:
            self._give(node[: whole * BUCKET_MS], ohm[: whole * BUCKET_MS], tick, whole)

    def _give(self, node: np.ndarray, ohm: np.ndarray, tick: int, whole: int) -> None:
        player = self._player
        low, high = int(node.min()), int(node.max())
        read = self._hands.range_number != records.RANGE_OFF
        olow, ohigh = (int(ohm.min()), int(ohm.max())) if read else (0, 0)
        player.bucket_start = tick
        if whole == 1 or (high - low <= player.quiet_node and ohigh - olow <= player.quiet_ohm):
            player.now = ticks.plus(tick, whole * BUCKET_MS)
            osum = int(ohm.sum()) if read else 0
            player.bucket(whole, low, int(node.sum()), high, olow, osum, ohigh, whole * BUCKET_MS)
            player.bucket_start = player.now
            return
        columns = []
        for counts in (node, ohm):
            table = counts.reshape(whole, BUCKET_MS)
            columns += [table.min(1).tolist(), table.sum(1).tolist(), table.max(1).tolist()]
        for nmin, nsum, nmax, omin, osum, omax in zip(*columns, strict=True):
            player.now = ticks.plus(player.bucket_start, BUCKET_MS)
            player.bucket(1, nmin, nsum, nmax, omin, osum, omax, BUCKET_MS)
            player.bucket_start = player.now


class Lines:
    """Marks and edges of the watch lines, and the 50 ms windows of those that are modulated."""

    def __init__(self, player: Any, line_count: int) -> None:
        self._player = player
        self._count = line_count
        self._calm_windows = 0

    def begin(self, levels: dict[int, Any], tick: int) -> None:
        """The lines as the board finds them."""
        for line, level in levels.items():
            if line <= self._count:
                self._player.edge(tick, line, int(level))
        self._player.lines_known = 1

    def take(self, scene: Any, tick: int, start_ms: int, span_ms: int) -> None:
        """What a stretch of ``span_ms`` from ``start_ms`` brought; ``tick`` is its start on board."""
        player = self._player
        for t_ms in scene.marks:
            player.mark(ticks.plus(tick, t_ms - start_ms))
        edges = [edge for edge in scene.edges if edge[1] <= self._count]
        for t_ms, line, level in edges:
            at = ticks.plus(tick, t_ms - start_ms)
            self._duties_until(at)
            player.edge(at, line, int(level))
            self._calm_windows = 0
        self._duties_until(ticks.plus(tick, span_ms))

    def _duties_until(self, at: int) -> None:
        """Close the 50 ms windows that end before ``at``.

        Where a line is modulated each window is looked at that has an edge in it, and the one
        after; those that follow without an edge say nothing new and are closed together.
        """
        player = self._player
        if not any(player.kinds):
            if ticks.after(at, player.edge_due) <= 0:
                player.duties(at)
            return
        windows = ticks.after(player.duty_due, at) // DUTY_MS + 1
        while windows > 0:
            if self._calm_windows < 2:
                together = 1
                self._calm_windows += 1
            else:
                together = windows
            player.duties(ticks.plus(player.duty_due, (together - 1) * DUTY_MS))
            windows -= together


class SlowChannels:
    """Throttle, sensor return, supplies and the board's temperature, once a second."""

    def __init__(self, player: Any, network_truth: Any) -> None:
        self._player = player
        self._truth = network_truth
        self._due_ms = 0

    def take(self, scene: Any, tick: int, start_ms: int) -> None:
        player = self._player
        for name, channel in (("throttle", 0), ("offsets", 1)):
            for t_ms, volts in getattr(scene, name, ()):
                player.aux(channel, round(volts * 1e4), ticks.plus(tick, t_ms - start_ms))
        if start_ms < self._due_ms:
            return
        self._due_ms = start_ms - start_ms % SLOW_EVERY_MS + SLOW_EVERY_MS
        player.now = tick
        player.aux(0, round(scene.throttle_v * 1e4), tick)
        player.aux(1, round(scene.return_offset_v * 1e4), tick)
        player.aux(2, round(scene.vbus_v * 1e4), tick)
        player.aux(3, VPOT_0V1MV, tick)
        player.aux(4, round(getattr(self._truth, "board_c", 25.0) * 1000), tick)
