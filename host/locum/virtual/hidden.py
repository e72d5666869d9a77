"""What is really wrong: the facts that both the full world and the event level play out."""

from __future__ import annotations

from dataclasses import dataclass

CULPRITS = (
    "sensor_open",
    "sensor_drift",
    "harness",
    "connector",
    "ground",
    "another_input",
    "hydraulic",
    "nothing",
)
"""Names used in scenario files, in the order in which reports list them."""

DROPOUT_CULPRITS = frozenset({"sensor_open", "harness", "connector"})
"""Culprits whose kick-outs come from the sensor line leaving its value for a while."""

SENSOR_CIRCUIT = DROPOUT_CULPRITS | {"sensor_drift"}
"""Culprits that sit in the sensor circuit."""


@dataclass(frozen=True)
class Truth:
    """Hidden facts of one case. ``guilty``: every part that causes >= 10 % of the kick-outs."""

    culprit: str
    guilty: frozenset[str]
    bursts_per_exposed_h: float
    """This case's own rate; drives vary around it."""
    shortest_answered_s: float
    """Shortest open of the sensor line, warm, that this module answers."""
    delay_s: float
    """From the end of the module's confirm time to the release."""
    filter_s: float
    confirm_s: float
    drift_c: float
    """How much too cold a drifted sensor reads, warm; 0 for all other culprits. [K]"""
