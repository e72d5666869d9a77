"""Did a glitch come before kick-outs more often than chance? Answered by shifting times.

A mean rate would not do: glitches crowd into the same minutes as kick-outs (bumps, heat), so
each kick-out is shifted within the like minutes around it, and the chance that it still finds a
glitch in its look-back is the share of those minutes that look-backs cover. The number linked is
then a sum of unequal coins (Poisson binomial), whose tail is exact.
"""

from __future__ import annotations

import numpy as np

SHIFT_S = 600.0
"""Kick-outs are shifted by up to this much to either side."""


def covered_share(
    times: np.ndarray,
    starts: np.ndarray,
    ends: np.ndarray,
    low_s: float = 0.0,
    high_s: float = np.inf,
    shift_s: float = SHIFT_S,
) -> np.ndarray:
    """Share of the minutes around each time that lies in a look-back.

    Parameters
    ----------
    times : array
        Kick-outs. [s]
    starts, ends : arrays
        Glitches and the ends of their look-backs, sorted by start. [s]
    low_s, high_s : float
        Ends of the like minutes (the stretch, exposed time). [s]
    """
    times = np.asarray(times, float)
    if len(starts) == 0:
        return np.zeros(len(times))
    reach = np.maximum.accumulate(ends)
    begins = np.maximum(starts, np.concatenate(([-np.inf], reach[:-1])))
    lengths = np.maximum(reach - begins, 0.0)
    before = np.concatenate(([0.0], np.cumsum(lengths)))
    left, right = np.maximum(times - shift_s, low_s), np.minimum(times + shift_s, high_s)
    covered = _up_to(right, begins, lengths, before) - _up_to(left, begins, lengths, before)
    return np.clip(covered / np.maximum(right - left, 1e-9), 0.0, 1.0)


def _up_to(t_s: np.ndarray, begins, lengths, before) -> np.ndarray:
    """Covered time up to each moment."""
    at = np.searchsorted(begins, t_s, "right") - 1
    index = np.maximum(at, 0)
    part = np.clip(t_s - begins[index], 0.0, lengths[index])
    return np.where(at >= 0, before[index] + part, 0.0)


def at_least(linked: int, chances: list[float]) -> float:
    """P(at least so many of unequal independent coins come up)."""
    if linked <= 0:
        return 1.0
    law = np.zeros(linked + 1)
    law[0] = 1.0
    for chance in chances:
        top = law[linked] + law[linked - 1] * chance
        law[1:linked] = law[1:linked] * (1 - chance) + law[: linked - 1] * chance
        law[0] *= 1 - chance
        law[linked] = top
    return float(min(1.0, law[linked]))
