"""Where a moment falls: exposed or not, in which stretch, within which spans."""

from __future__ import annotations

import numpy as np

from locum.verdict.evidence import Drive, Stretch


class Clock:
    """Where a time falls: exposed or not, and in which stretch."""

    def __init__(self, drive: Drive) -> None:
        end_s = drive.hours * 3600.0
        self.stretches = drive.stretches or (Stretch(0.0, end_s),)
        self._starts = np.array([stretch.start_s for stretch in self.stretches])
        self.exposed = drive.exposed
        flat = np.array(drive.exposed, float).reshape(-1, 2)
        self._edges = flat.ravel()

    def is_exposed(self, t_s):
        return np.searchsorted(self._edges, t_s, "right") % 2 == 1

    def index(self, t_s):
        at = np.searchsorted(self._starts, t_s, "right") - 1
        return np.clip(at, 0, len(self._starts) - 1)

    def hours(self) -> tuple[dict[tuple[str, str], float], dict[str, float]]:
        """Exposed hours by (connected, foot), and hours outside by foot."""
        out: dict[tuple[str, str], float] = {}
        outside = {"normal": 0.0, "still": 0.0}
        for stretch in self.stretches:
            length = stretch.end_s - stretch.start_s
            inside = sum(
                max(0.0, min(stretch.end_s, end) - max(stretch.start_s, begin))
                for begin, end in self.exposed
            )
            outside[stretch.foot] = outside.get(stretch.foot, 0.0) + (length - inside) / 3600.0
            if stretch.watched and inside > 0:
                key = (stretch.connected, stretch.foot)
                out[key] = out.get(key, 0.0) + inside / 3600.0
        return out, outside


def follows_within(events: np.ndarray | None, t_s: np.ndarray, window_s) -> np.ndarray:
    """True where an event lies within the window before (or at) the time."""
    if events is None or len(events) == 0:
        return np.zeros(len(t_s), bool)
    at = np.searchsorted(events, t_s, "right") - 1
    return (at >= 0) & (t_s - events[np.maximum(at, 0)] <= window_s)


def lies_within(starts, ends, t_s: np.ndarray) -> np.ndarray:
    """True where t lies in any of the spans (starts sorted)."""
    if len(starts) == 0:
        return np.zeros(len(t_s), bool)
    reach = np.maximum.accumulate(ends)
    at = np.searchsorted(starts, t_s, "right") - 1
    return (at >= 0) & (reach[np.maximum(at, 0)] >= t_s)
