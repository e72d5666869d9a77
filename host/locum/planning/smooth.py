"""Undoing the rounding of a recording kept in whole degrees.

A recording in whole degrees jumps by 1 K where the real sensor crept. Within half a degree of
each sample anything could have been the truth; of all curves inside that tube the *taut string*
(the shortest path) has the least steep ramps, and is taken. Method: the shortest path through a
tube of line segments, the funnel of computational geometry; its use for denoising is Davies and
Kovac, Annals of Statistics 29 (2001) 1-65 (citation from memory).
"""

from __future__ import annotations

import numpy as np


def taut_string(time_s: np.ndarray, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """The shortest path with ``low <= path <= high`` at every time.

    Starts and ends at the middle of the tube. Arrays of equal length n >= 2, times increasing;
    returns the path at those times, same unit as the tube. Cost is linear in practice: every
    sample enters and leaves the funnel once.
    """
    t = np.asarray(time_s, float)
    lo, hi = np.array(low, float), np.array(high, float)
    for end in (0, -1):
        lo[end] = hi[end] = (lo[end] + hi[end]) / 2
    knots = [0]
    knot_values = [lo[0]]
    while knots[-1] < len(t) - 1:
        at, value = knots[-1], knot_values[-1]
        low_slope, high_slope, low_at, high_at = -np.inf, np.inf, at, at
        j = at + 1
        while j < len(t):
            up, down = (hi[j] - value) / (t[j] - t[at]), (lo[j] - value) / (t[j] - t[at])
            if down > high_slope:
                knots.append(high_at)
                knot_values.append(hi[high_at])
                break
            if up < low_slope:
                knots.append(low_at)
                knot_values.append(lo[low_at])
                break
            if up <= high_slope:
                high_slope, high_at = up, j
            if down >= low_slope:
                low_slope, low_at = down, j
            j += 1
        else:
            knots.append(len(t) - 1)
            knot_values.append(lo[-1])
    return np.interp(t, t[knots], knot_values)


def unrounded(time_s: np.ndarray, whole_degrees: np.ndarray) -> np.ndarray:
    """The taut string within half a degree of a recording in whole degrees."""
    values = np.asarray(whole_degrees, float)
    return taut_string(np.asarray(time_s, float), values - 0.5, values + 0.5)
