"""Readings of a module's input from which no source can be worked out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from locum.errors import Remark

LEAST_V = 1e-3
"""Less than this is no reading of a live input by a hand meter. [V]"""


def reading_refusals(
    open_v: float | None, loads: Sequence[tuple[float, float]], u_volt: float
) -> list[Remark]:
    """Readings from which no source can be worked out."""
    distinct = {ohm for ohm, _ in loads}
    if len(distinct) + (open_v is not None) < 2:
        found = f"{'an' if open_v is not None else 'no'} open reading and {len(distinct)} load"
        return [
            Remark(
                "too_few_readings",
                "module input",
                "the open voltage and one load, or two different loads",
                found,
                "add a load of 1 to 3 kohm",
            )
        ]
    rows = [(math.inf, open_v)] if open_v is not None else []
    rows += sorted(loads, reverse=True)
    wrong = [
        Remark("no_voltage", _named(ohm), f"{LEAST_V * 1e3:g} mV or more", f"{volts:g} V", DEAD)
        for ohm, volts in rows
        if volts is None or not volts >= LEAST_V or not math.isfinite(volts)
    ]
    if wrong:
        return wrong
    if open_v is not None:
        wrong = [
            Remark(
                "load_lifts_line",
                _named(ohm),
                f"less than the open {open_v:g} V",
                f"{volts:g} V",
                "repeat both readings with the same meter and range",
            )
            for ohm, volts in loads
            if volts > open_v + 4 * math.sqrt(2) * u_volt
        ]
    return wrong


DEAD = "check that the ignition is on and the line is not shorted to ground"


def _named(ohm: float) -> str:
    return "open reading" if math.isinf(ohm) else f"load {ohm:g} ohm"
