"""Numbers in remarks: some digits, no powers of ten."""

from __future__ import annotations

import math


def plain(value: float, digits: int = 3) -> str:
    """A number rounded to some significant digits, written out: 6250, 0.031, 12000; ``inf``, ``nan``."""
    if not math.isfinite(value):
        return f"{value:g}"
    rounded = float(f"{value:.{digits}g}")
    if rounded == int(rounded) and abs(rounded) < 1e15:
        return str(int(rounded))
    return f"{rounded:.12f}".rstrip("0") if abs(rounded) < 1e-4 else f"{rounded:.15g}"
