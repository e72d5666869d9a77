"""How far the readings of a merged record row may lie apart, so that a small glitch is not merged away.

The board merges buckets while all their readings stay within a band of counts (``locum_board/records.py``).
With a usual pull-up five kelvin are fifty counts and the board's own band serves. Against a pull-up of
10 kohm a hot sensor makes less than ten counts of them, against one of 1 kohm a cold sensor of 8 kohm
fifteen: there the band is narrowed, at the worst at the price of record (some ten rows a second
instead of one), so that begin and length of the glitch stay on record.
"""

from __future__ import annotations

from locum.jobs.circuit import Circuit

GLITCH_K = 5.0
"""What must not be merged away. [K]"""
SHARE = 0.65
"""Band over the counts of such a glitch: the rest is left to the line's own noise."""
LEAST_COUNTS, USUAL_COUNTS = 4, 16
COLDEST_C, HOTTEST_C = -20.0, 110.0


def quiet_counts(circuit: Circuit) -> int:
    """Band of the node for this circuit, 4 to 16. [counts of the converter]"""
    node = circuit.board.get("node") or {}
    full_v = node.get("vref_v", 3.3) * node.get("divider", 2.0)
    lsb_v = full_v / 2 ** int(node.get("adc_bits", 12))
    source, (low_c, high_c) = circuit.module.source, circuit.sensor.curve.domain_c
    hot_pull_up = source.stages[0].rth_ohm if source.stages else source.rth_ohm
    ends = ((max(COLDEST_C, low_c + 1), source.rth_ohm),
            (min(HOTTEST_C, high_c - 1) - GLITCH_K, hot_pull_up))  # fmt: skip
    least_v = min(_volts_of_glitch(circuit, celsius, pull_up) for celsius, pull_up in ends)
    return int(min(max(SHARE * least_v / lsb_v, LEAST_COUNTS), USUAL_COUNTS))


def _volts_of_glitch(circuit: Circuit, celsius: float, pull_up_ohm: float) -> float:
    """What five kelvin from a temperature upwards are on the node. [V]"""
    ohms = (float(circuit.sensor.curve.resistance_ohm(c)) for c in (celsius, celsius + GLITCH_K))
    low, high = sorted(circuit.module.source.voc_v * r / (r + pull_up_ohm) for r in ohms)
    return high - low
