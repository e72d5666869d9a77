"""What a module with a filtered input makes of a short open or short circuit.

First-order filter of time constant tau on the node voltage: an open of length d lifts it by
``V(d) = V0 + (Voc - V0)(1 - exp(-d/tau))``, a short lets it sink as ``V0 exp(-d/tau)``.
"""

from __future__ import annotations

import math
from typing import Literal

from locum.errors import Refused, Remark
from locum.physics.circuit import Thevenin, node_v, resistance_from_node_ohm
from locum.physics.curve_base import Curve

Way = Literal["open", "short"]


def seen_c(
    curve: Curve,
    source: Thevenin,
    start_c: float,
    length_s: float,
    tau_s: float,
    way: Way = "open",
) -> float:
    """Temperature the module reads at the end of a glitch. [degC]

    Parameters
    ----------
    curve, source
        The sensor and the module's input (cold stage).
    start_c : float
        Temperature before the glitch. [degC]
    length_s, tau_s : float
        Length of the glitch and time constant of the filter. [s]
    way : "open" or "short"
        What the glitch is.
    """
    before = node_v(source, curve.resistance_ohm(start_c), stage=0)
    to = source.voc_v if way == "open" else 0.0
    after = to + (before - to) * math.exp(-length_s / tau_s)
    return curve.temperature_c(resistance_from_node_ohm(source, after))


def shortest_length_s(
    curve: Curve,
    source: Thevenin,
    start_c: float,
    threshold_c: float,
    tau_s: float,
    way: Way = "open",
) -> float:
    """Shortest glitch that carries the filtered reading to a threshold. [s]

    ``tau ln((Voc - V0)/(Voc - Vt))`` for an open, ``tau ln(V0/Vt)`` for a short. Raises Refused if the
    threshold lies on the other side of the start.
    """
    before = node_v(source, curve.resistance_ohm(start_c), stage=0)
    at = node_v(source, curve.resistance_ohm(threshold_c), stage=0)
    ratio = (source.voc_v - before) / (source.voc_v - at) if way == "open" else before / at
    if ratio < 1.0:
        raise Refused(
            Remark(
                "wrong_way",
                f"{way} from {start_c:g} degC",
                f"a threshold that the {way} moves the reading towards",
                f"{threshold_c:g} degC, which lies the other way",
                "swap open and short, or the temperatures",
            )
        )
    return tau_s * math.log(ratio)
