"""How another logger's time lies against ours, found where both saw the same thing happen.

Both series are laid on a common grid, freed of their slow course (a running mean over
``SLOW_S``), and compared at every shift at which they overlap enough. The measure is Pearson's
correlation over the overlap alone, so an end hanging over does not favour small shifts.

An offset is trusted only where the match is good and no other shift is nearly as good: a steady
motorway hour matches everywhere, and is refused rather than guessed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from locum.errors import Remark

GRID_S = 0.2
SLOW_S = 60.0
"""Warm-up and long hills match at any shift; what happens within a minute does not."""
LEAST_CORRELATION = 0.6
LEAST_LEAD = 0.15
"""By how much the best shift must beat the best one elsewhere."""
APART_S = 5.0
"""Shifts nearer to the best than this belong to the same peak."""
LEAST_OVERLAP_S = 120.0


@dataclass(frozen=True)
class Offset:
    """``our time = their time + offset_s``."""

    offset_s: float
    u_s: float
    """Standard uncertainty. [s]"""
    correlation: float
    elsewhere: float
    """The best correlation at any other shift."""
    trusted: bool
    remarks: tuple[Remark, ...] = field(default=())


def find_offset(
    ours_t_s: np.ndarray,
    ours: np.ndarray,
    theirs_t_s: np.ndarray,
    theirs: np.ndarray,
    *,
    within_s: float | None = None,
) -> Offset:
    """Find how much must be added to their time.

    Parameters
    ----------
    ours_t_s, ours
        Any series of ours that follows the same thing, such as the throttle, the brake line as 0
        and 1, or the coolant temperature. Times rising. [s]
    theirs_t_s, theirs
        The other logger's series, in any unit; the sign must agree (pedal down is up in both).
    within_s
        Only shifts of at most this size, where both clocks are known to be nearly right. [s]

    Returns
    -------
    Offset
        ``trusted`` False, with the reason as a remark, where the match is poor or not the only one.
    """
    one, one_start = _on_grid(ours_t_s, ours)
    two, two_start = _on_grid(theirs_t_s, theirs)
    least = min(LEAST_OVERLAP_S / GRID_S, 0.5 * min(len(one), len(two)))
    r, shifts = _correlations(one, two, least)
    offsets = shifts * GRID_S + one_start - two_start
    if within_s is not None:
        r = np.where(np.abs(offsets) <= within_s, r, np.nan)
    if not np.isfinite(r).any():
        return _distrusted(0.0, np.inf, 0.0, 0.0, "overlap_missing", "both logs to overlap", "none")
    best = int(np.nanargmax(r))
    top = float(r[best])
    far = np.abs(offsets - offsets[best]) > APART_S
    elsewhere = float(np.nanmax(np.where(far, r, np.nan))) if np.isfinite(r[far]).any() else 0.0
    offset_s, u_s = _peak(r, offsets, best)
    if top < LEAST_CORRELATION:
        found = f"{top:.2f} at best"
        return _distrusted(
            offset_s, u_s, top, elsewhere, "logs_unlike", "a correlation of 0.6", found
        )
    if top - max(elsewhere, 0.0) < LEAST_LEAD:
        found = f"{top:.2f} here and {elsewhere:.2f} at another shift"
        return _distrusted(offset_s, u_s, top, elsewhere, "logs_ambiguous", "one best match", found)
    return Offset(offset_s, u_s, top, elsewhere, True)


def _distrusted(
    offset_s: float, u_s: float, top: float, elsewhere: float, code: str, wanted: str, found: str
) -> Offset:
    remedy = "choose a livelier pair of channels, or give the offset by hand"
    remark = Remark(code, "offset of the other log", wanted, found, remedy)
    return Offset(offset_s, u_s, top, elsewhere, False, (remark,))


def _on_grid(t_s: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, float]:
    """The series every ``GRID_S`` without its slow course, and the time of its first point."""
    t, x = np.asarray(t_s, dtype=float), np.asarray(values, dtype=float)
    good = np.isfinite(t) & np.isfinite(x)
    t, x = t[good], x[good]
    if len(t) < 3:
        return np.zeros(2), float(t[0]) if len(t) else 0.0
    grid = np.arange(t[0], t[-1], GRID_S)
    on_grid = np.interp(grid, t, x)
    width = max(int(SLOW_S / GRID_S), 1)
    weight = np.convolve(np.ones_like(on_grid), np.ones(width), "same")
    return on_grid - np.convolve(on_grid, np.ones(width), "same") / weight, float(t[0])


def _correlations(one: np.ndarray, two: np.ndarray, least: float) -> tuple[np.ndarray, np.ndarray]:
    """Pearson's correlation over the overlap, at every whole shift of ``two`` against ``one``;
    NaN where fewer than ``least`` points overlap or one side stands still."""
    size = 1 << (len(one) + len(two) - 1).bit_length()

    def crossed(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        product = np.fft.rfft(a, size) * np.conj(np.fft.rfft(b, size))
        whole = np.fft.irfft(product, size)
        return np.concatenate((whole[size - len(two) + 1 :], whole[: len(one)]))

    ones, twos = np.ones_like(one), np.ones_like(two)
    n = np.rint(crossed(ones, twos))
    sum_1, sum_2 = crossed(one, twos), crossed(ones, two)
    squares_1, squares_2 = crossed(one**2, twos), crossed(ones, two**2)
    both = crossed(one, two)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread_1 = squares_1 - sum_1**2 / n
        spread_2 = squares_2 - sum_2**2 / n
        r = (both - sum_1 * sum_2 / n) / np.sqrt(spread_1 * spread_2)
    still = (spread_1 < 1e-9 * squares_1.max()) | (spread_2 < 1e-9 * squares_2.max())
    r[(n < least) | still] = np.nan
    return r, np.arange(-len(two) + 1, len(one))


def _peak(r: np.ndarray, offsets: np.ndarray, best: int) -> tuple[float, float]:
    """The top of the parabola through the best shift and its neighbours, and its uncertainty: the
    grid's step, and how far the peak is so flat that noise could move it."""
    top = float(offsets[best])
    u_grid = GRID_S / 12**0.5
    if not 0 < best < len(r) - 1 or not np.isfinite(r[best - 1 : best + 2]).all():
        return top, u_grid
    left, middle, right = r[best - 1 : best + 2]
    bend = left - 2.0 * middle + right
    if bend >= 0:
        return top, u_grid
    top += GRID_S * 0.5 * float(left - right) / float(bend)
    flat = GRID_S * float(np.sqrt(2.0 * max(1.0 - middle**2, 0.0) / -bend / 50.0))
    return top, float(np.hypot(u_grid, flat))
