"""How finely a source printed its resistances."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

MOST_DIGITS = 9
"""Digits beyond these are the computer's, not the source's."""


def quantum_ohm(ohms: npt.ArrayLike) -> np.ndarray:
    """Step to which each resistance of a table was probably rounded. [ohm]

    Within a decade (100 to 999 ohm, say) the step is the largest power of ten that divides every row.
    A lone row could end in zeros by chance, so it takes the finer of its own step and the one that
    the table's number of significant digits gives.
    """
    values = np.asarray(ohms, dtype=float)
    own = np.array([_own_quantum(value) for value in values])
    decade = np.floor(np.log10(values))
    digits = int(np.max(decade - np.log10(own) + 1))
    by_digits = np.maximum(10.0 ** (decade + 1 - digits), own.min())
    result = np.empty_like(own)
    for level in np.unique(decade):
        here = decade == level
        shared = own[here].min()
        result[here] = shared if np.count_nonzero(here) > 1 else min(shared, by_digits[here][0])
    return result


def _own_quantum(value: float) -> float:
    """Largest power of ten that divides a number, read from its shortest decimal form."""
    mantissa, _, exponent = f"{value:.{MOST_DIGITS - 1}e}".partition("e")
    kept = len(mantissa.replace(".", "").rstrip("0"))
    return 10.0 ** (int(exponent) - max(kept, 1) + 1)
