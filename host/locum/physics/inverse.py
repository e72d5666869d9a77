"""Turning a rising function round: Newton's method that cannot leave its bracket."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

Function = Callable[[np.ndarray], np.ndarray]


def solve_rising(
    function: Function,
    slope: Function,
    wanted: np.ndarray,
    low: np.ndarray | float,
    high: np.ndarray | float,
    start: np.ndarray | None = None,
) -> np.ndarray:
    """Where a function that rises on [low, high] takes the wanted values.

    Parameters
    ----------
    function, slope : callables on arrays
        The function and its derivative; never falling on the bracket.
    wanted : array
        Values to reach; what lies beyond the bracket's ends gives the nearer end.
    low, high : array or float, broadcast against ``wanted``
        The bracket.
    start : array, optional
        First guess; the middle of the bracket if missing.

    Returns
    -------
    array
        Solutions within about 1e-14 of the bracket's width: the bracket halves whenever a Newton step would leave it,
        so the method ends even where the slope is nearly zero.
    """
    wanted = np.asarray(wanted, dtype=float)
    low = np.array(np.broadcast_to(low, wanted.shape), dtype=float)
    high = np.array(np.broadcast_to(high, wanted.shape), dtype=float)
    # Below this the last bits of the function, not the distance to the root, move the steps.
    scale = high - low
    at = 0.5 * (low + high) if start is None else np.clip(start, low, high)
    for _ in range(80):
        miss = function(at) - wanted
        low = np.where(miss <= 0, at, low)
        high = np.where(miss >= 0, at, high)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = at - miss / slope(at)
        inside = (step >= low) & (step <= high)
        following = np.where(inside, step, 0.5 * (low + high))
        moved = np.abs(following - at)
        at = following
        if np.all(moved <= 1e-14 * np.maximum(np.abs(at), scale)):
            break
    return at
