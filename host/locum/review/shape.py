"""The shape of a glitch as recorded, to be played back into the module."""

from __future__ import annotations

import numpy as np

from locum.review.chunk import OPEN_MILLIOHM, SOURCE_MOVING
from locum.review.context import Context
from locum.review.findings import Glitch
from locum.review.scale import Scale


def glitch_shape(
    samples: np.ndarray, glitch: Glitch, context: Context, margin_ms: int = 20
) -> list[tuple[int, float]]:
    """(time since the glitch's start, ohms) of each change, from buckets of the record.

    Parameters
    ----------
    samples : SAMPLE array
        The record around the glitch.
    margin_ms : int
        Kept before and after, so that the playback begins and ends at the quiet value. [ms]

    Returns
    -------
    list of (ms, ohm)
        Sorted; the extreme of each bucket towards the glitch's side; infinite where open. Empty if
        the record does not hold the glitch.
    """
    begin, end = glitch.t_ms - margin_ms, glitch.t_ms + glitch.length_ms + margin_ms
    overlap = (samples["t_ms"] < end) & (samples["t_ms"] + samples["span_ms"] > begin)
    rows = samples[overlap & (samples["source"] != SOURCE_MOVING)]
    cold = glitch.towards == "cold"
    if glitch.channel == "ohmmeter":
        ohms = rows["ohm_max" if cold else "ohm_min"] / 1e3
    else:
        volts = rows["node_max" if cold else "node_min"] / 1e4
        ohms = Scale(context).ohm_from_node(volts)
    ohms = np.where(ohms >= 0.98 * OPEN_MILLIOHM / 1e3, np.inf, ohms)
    times = np.maximum(rows["t_ms"] - glitch.t_ms, -margin_ms)
    points = [(int(t), float(ohm)) for t, ohm in zip(times, ohms, strict=True)]
    return [p for i, p in enumerate(points) if i == 0 or p[1] != points[i - 1][1]]
